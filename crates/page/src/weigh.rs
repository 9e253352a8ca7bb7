//! Verdicts, made on a thread of their own: the page answers at once, the verdict follows, and then the
//! advice, which takes several times as long.

use crate::subject::Subject;
use crate::work::Basis;
use dryjoint_session::Session;
use dryjoint_verdict::{End, Inquiry, Next, Pairs, Verdict};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

/// A session to weigh, with what it comes from.
struct Question {
    basis: Basis,
    session: Session,
}

/// A verdict on a session.
#[derive(Clone, Debug)]
pub struct Opinion {
    /// What it rests on.
    pub basis: Basis,
    /// Who could have caused what was seen.
    pub verdict: Verdict,
    /// What to do next.
    pub advice: Advice,
    /// Pairs of faults, where no single one fits.
    pub pairs: Option<Pairs>,
}

/// What to do next, as far as it is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Advice {
    /// It is still being worked out.
    Sought,
    /// This, or why nothing promises to tell more.
    Found(Result<Next, End>),
}

/// Whoever weighs.
#[derive(Debug)]
pub struct Weigher {
    questions: Sender<Question>,
}

/// More than this for "none of these", and two faults at once are tried.
const NONE_FITS: f64 = 0.5;

impl Weigher {
    /// Starts weighing; `tell` hears of each opinion. It ends when the weigher is dropped.
    pub fn start(subject: Subject, tell: impl Fn(Arc<Opinion>) + Send + 'static) -> Self {
        let (questions, asked) = channel();
        std::thread::spawn(move || work(subject, &asked, &tell));
        Self { questions }
    }

    /// Asks for an opinion; an older question that nobody has begun on is dropped.
    pub fn ask(&self, basis: Basis, session: Session) {
        // Where the thread is gone there is no opinion, and the page says that it waits.
        let _ = self.questions.send(Question { basis, session });
    }
}

fn work(subject: Subject, asked: &Receiver<Question>, tell: &dyn Fn(Arc<Opinion>)) {
    let mut inquiry = Inquiry::new(subject.study, subject.priors);
    let mut waiting: Option<Question> = None;
    while let Some(question) = waiting.take().or_else(|| asked.recv().ok()) {
        let Question { basis, session } = asked.try_iter().last().unwrap_or(question);
        inquiry.meter = basis.meter;
        let verdict = inquiry.weigh(&session);
        let opinion = Opinion { basis, verdict, advice: Advice::Sought, pairs: None };
        let advise = |verdict: &Verdict| inquiry.next(subject.procedure, subject.costs, &session, verdict);
        let opinion = told(opinion, advise, tell);
        if opinion.verdict.none_of_these > NONE_FITS && !opinion.verdict.surprises.is_empty() {
            let pairs = inquiry.pairs(&session);
            tell(Arc::new(Opinion { pairs: Some(pairs), ..opinion.clone() }));
        }
        // Whoever asks meanwhile is not kept waiting for what may not be done.
        waiting = asked.try_iter().last();
        if let (None, Advice::Found(Ok(next))) = (&waiting, &opinion.advice) {
            inquiry.play_early(&next.done(&session));
        }
    }
}

/// Tells a verdict before the advice on it is sought, and again with the advice.
fn told(
    opinion: Opinion,
    advise: impl FnOnce(&Verdict) -> Result<Next, End>,
    tell: &dyn Fn(Arc<Opinion>),
) -> Opinion {
    tell(Arc::new(opinion.clone()));
    let next = advise(&opinion.verdict);
    let opinion = Opinion { advice: Advice::Found(next), ..opinion };
    tell(Arc::new(opinion.clone()));
    opinion
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// The advice holds still while it is looked at what was heard before it is there.
    #[test]
    fn the_verdict_is_told_while_the_advice_is_still_sought() {
        let (say, heard) = channel();
        let basis = Basis { entries: 7, meter: true };
        let verdict = Verdict { readings: 3, ..Verdict::default() };
        let opinion = Opinion { basis, verdict: verdict.clone(), advice: Advice::Sought, pairs: None };
        let end = Err(End::NothingClose);
        let sought = Cell::new(false);
        let advise = |on: &Verdict| {
            let first: Arc<Opinion> = heard.try_recv().expect("the verdict was told before");
            assert_eq!((first.basis, &first.verdict, &first.advice), (basis, on, &Advice::Sought));
            assert!(heard.try_recv().is_err(), "once");
            sought.set(true);
            end.clone()
        };
        told(opinion, advise, &|opinion| say.send(opinion).unwrap());
        assert!(sought.get());
        let second = heard.try_recv().unwrap();
        assert_eq!((second.basis, &second.verdict, &second.advice), (basis, &verdict, &Advice::Found(end)));
        assert!(heard.try_recv().is_err(), "once");
    }
}
