//! How likely a reading is when something is there: the one place that holds the eye's and the
//! meter's habits. All figures are judgement.

use dryjoint_faults::lanes::Shown;
use dryjoint_session::Sight;

/// A lamp's reading, given what was there. Of misreadings half take it for the opposite, the rest
/// for something in between.
pub fn lamp(there: Shown, sight: Sight, misread: f64) -> f64 {
    let of = |right: Sight| match sight {
        Sight::NotLooked => 1.0,
        _ if sight == right => 1.0 - misread,
        Sight::Lit | Sight::Dark => misread * 0.5,
        Sight::Dim => misread * 0.3,
        Sight::Flickering => misread * 0.2,
    };
    match there {
        Shown::One => of(Sight::Lit),
        Shown::Zero => of(Sight::Dark),
        Shown::Dim => habit(&DIM, sight),
        Shown::Unknown => habit(&UNKNOWN, sight),
    }
}

/// How a lamp looks of which no more is known: lit, dark, dim, flickering.
type Habit = [f64; 4];

/// Two people do not agree on a dim lamp.
const DIM: Habit = [0.25, 0.2, 0.5, 0.05];

/// A level that the lanes do not know is as a rule plainly one or the other, or it lies between and
/// the lamp is dim.
const UNKNOWN: Habit = [0.38, 0.38, 0.16, 0.08];

fn habit(habit: &Habit, sight: Sight) -> f64 {
    match sight {
        Sight::Lit => habit[0],
        Sight::Dark => habit[1],
        Sight::Dim => habit[2],
        Sight::Flickering => habit[3],
        Sight::NotLooked => 1.0,
    }
}

/// Readings of lamps whose look is open. It is one board, and one person looks: what a lamp did before
/// is a hint, so is what it does on a good board, and what everybody expects of whom more is known: a level
/// that lies between two thresholds is as a rule read in the end as some plainer fault would have it. Four ways to guess
/// run side by side, and the one that does best counts.
#[derive(Clone, Copy, Debug, Default)]
pub struct OpenRun {
    any: bool,
    blind: f64,
    agree: Run,
    same: Run,
    crowd: f64,
}

impl OpenRun {
    /// One more reading of a lamp that is dim or not known; whether it is as on a good board, how
    /// the lamp looked before, and its chance with everybody of whom more is known.
    pub fn add(
        &mut self,
        there: Shown,
        sight: Sight,
        (agrees, before): (Option<bool>, Option<Sight>),
        crowd: Option<f64>,
    ) {
        let of = |sight: Sight| lamp(there, sight, 0.0);
        // What is not as the hint has it is one of the others.
        let hint = |run: &mut Run, hinted: Option<Sight>| match hinted {
            Some(hinted) => run.add(sight == hinted, 1.0, of(sight) / (1.0 - of(hinted))),
            None => run.share(of(sight).ln()),
        };
        self.any = true;
        self.blind += of(sight).ln();
        let good = agrees.filter(|_| there == Shown::Unknown).map(|agrees| match (sight, agrees) {
            (sight, true) => sight,
            (Sight::Lit, false) => Sight::Dark,
            (_, false) => Sight::Lit,
        });
        hint(&mut self.agree, good);
        hint(&mut self.same, before);
        self.crowd += crowd.filter(|_| there == Shown::Unknown).unwrap_or(of(sight)).ln();
    }

    /// The chance of one more reading after these, by all hints but the crowd's.
    pub fn next(&self, there: Shown, sight: Sight, agrees: Option<bool>, before: Option<Sight>) -> f64 {
        let alone = |run: &Self| log_sum([run.blind, run.agree.log, run.same.log]);
        let mut longer = *self;
        longer.add(there, sight, (agrees, before), None);
        (alone(&longer) - alone(self)).exp()
    }

    /// How far the crowd is trusted by now.
    pub fn trust(&self) -> f64 {
        (self.crowd - log_sum([self.blind, self.agree.log, self.same.log, self.crowd])).exp()
    }

    /// The logarithm of the run's chance.
    pub fn log(&self) -> f64 {
        let each = [self.blind, self.agree.log, self.same.log, self.crowd];
        if self.any { log_sum(each) - 4f64.ln() } else { 0.0 }
    }

    /// The same had it been known from the start which hint is right and how often: what was spent on learning that is
    /// no evidence against anybody.
    pub fn learned(&self) -> f64 {
        [self.agree.learned(), self.same.learned(), self.crowd].into_iter().fold(self.blind, f64::max)
    }
}

/// How luck fell where one of two ways was heard, for latches and clocks. It is one board: where two gates race each other, the
/// same one wins as a rule. So there are hints as for lamps.
#[derive(Clone, Copy, Debug, Default)]
pub struct FallRun {
    blind: f64,
    agree: Run,
    same: Run,
}

impl FallRun {
    /// One more; whether it fell as it is on a good board, and as it fell the last time.
    pub fn add(&mut self, agrees: Option<bool>, same: Option<bool>) {
        let half = 0.5f64.ln();
        let hint = |run: &mut Run, hint: Option<bool>| match hint {
            Some(yes) => run.add(yes, 1.0, 1.0),
            None => run.share(half),
        };
        self.blind += half;
        hint(&mut self.agree, agrees);
        hint(&mut self.same, same);
    }

    /// The logarithm of the run's chance.
    pub fn log(&self) -> f64 {
        let each = [self.blind, self.agree.log, self.same.log];
        if self.blind < 0.0 { log_sum(each) - 3f64.ln() } else { 0.0 }
    }

    /// The same had it been known from the start which hint is right and how often.
    pub fn learned(&self) -> f64 {
        self.blind.max(self.agree.learned()).max(self.same.learned())
    }
}

/// A run of yes and no whose rate is not known, counted as it comes (Krichevsky and Trofimov 1981:
/// the next is a yes with chance (yes + ½) / (all + 1)). In natural logarithms.
#[derive(Clone, Copy, Debug, Default)]
struct Run {
    yes: f64,
    no: f64,
    log: f64,
    /// What of `log` does not hang on the rate.
    shares: f64,
}

impl Run {
    /// One more; `share` is what of a yes, or of a no, this very reading is.
    fn add(&mut self, yes: bool, share_of_yes: f64, share_of_no: f64) {
        let all = self.yes + self.no + 1.0;
        let (count, share) = if yes { (&mut self.yes, share_of_yes) } else { (&mut self.no, share_of_no) };
        self.log += ((*count + 0.5) / all).ln();
        *count += 1.0;
        self.share(share.ln());
    }

    /// Something that has this chance whatever the rate is.
    fn share(&mut self, log: f64) {
        self.log += log;
        self.shares += log;
    }

    /// The logarithm of the run's chance at the rate at which it is the likeliest.
    fn learned(&self) -> f64 {
        let all = self.yes + self.no;
        let of = |count: f64| if count > 0.0 { count * (count / all).ln() } else { 0.0 };
        of(self.yes) + of(self.no) + self.shares
    }
}

/// The chance of `wrong` departures among `wrong + right` readings in one given order when nothing
/// is known of their rate: 1 / ((n + 1) · C(n, wrong)), Laplace's rule. In natural logarithms.
pub fn departures(wrong: usize, right: usize) -> f64 {
    let choose: f64 = (0..wrong).map(|k| ((right + k + 1) as f64 / (k + 1) as f64).ln()).sum();
    -choose - ((wrong + right + 1) as f64).ln()
}

/// The density of a measured figure around a computed one, with a spread that stands for part
/// tolerances and the meter; a misreading can be anything on a scale this long.
pub fn measured(computed: f64, figure: f64, spread: f64, misread: f64, scale: f64) -> f64 {
    let z = (figure - computed) / spread;
    let bell = (-0.5 * z * z).exp() / (spread * (2.0 * std::f64::consts::PI).sqrt());
    (1.0 - misread) * bell + misread / scale
}

/// `ln(Σ exp)` without overflow; minus infinity of nothing.
pub fn log_sum(logs: impl IntoIterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().into_iter().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return most;
    }
    most + logs.into_iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chances_of_all_sights_add_up_to_one() {
        for there in [Shown::One, Shown::Zero, Shown::Dim, Shown::Unknown] {
            let all = [Sight::Lit, Sight::Dark, Sight::Dim, Sight::Flickering];
            let sum: f64 = all.into_iter().map(|sight| lamp(there, sight, 0.01)).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{there:?}: {sum}");
        }
    }

    /// Laplace's rule: each count of departures is equally likely, each order of one count too.
    #[test]
    fn departures_of_every_count_share_alike() {
        let n = 6;
        let choose = [1.0, 6.0, 15.0, 20.0, 15.0, 6.0, 1.0];
        for (k, orders) in choose.into_iter().enumerate() {
            let all = departures(k, n - k).exp() * orders;
            assert!((all - 1.0 / 7.0).abs() < 1e-12, "{k}: {all}");
        }
    }

    /// The published sequence of the estimator: 1/2, 3/4 · 1/2 = 3/8, then a change 3/8 · 1/6.
    #[test]
    fn a_run_learns_its_rate() {
        let mut run = Run::default();
        run.add(true, 1.0, 1.0);
        run.add(true, 1.0, 1.0);
        assert!((run.log.exp() - 3.0 / 8.0).abs() < 1e-12);
        run.add(false, 1.0, 1.0);
        assert!((run.log.exp() - 3.0 / 48.0).abs() < 1e-12);
    }

    #[test]
    fn a_sum_of_logarithms_neither_overflows_nor_panics_on_nothing() {
        assert!((log_sum([-1000.0, -1000.0]) - (2f64.ln() - 1000.0)).abs() < 1e-9);
        assert_eq!(log_sum([]), f64::NEG_INFINITY);
    }
}
