//! An axis: what it counts, from where to where, and how its figures are written.
//!
//! Figures are written as a bench instrument shows them: `0 20 40 60 80` under "time, ms", the power of
//! a thousand being in the unit.

/// One axis of a plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What is counted, such as `time`.
    pub label: String,
    /// Its unit, such as `s`; empty for a share or a count.
    pub unit: String,
    /// The value at the left or lower end.
    pub from: f64,
    /// The value at the other end; more than `from`.
    pub to: f64,
}

/// The powers of a thousand that have a letter.
const PREFIXES: [(&str, f64); 6] = [("G", 1e9), ("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("u", 1e-6)];
/// Units that take no letter: nobody writes a kilominute.
const PLAIN: [&str; 2] = ["", "min"];

impl Axis {
    /// An axis. Ends that are no numbers, or out of order, are replaced by 0 and 1.
    pub fn of(label: &str, unit: &str, from: f64, to: f64) -> Self {
        let (from, to) = if from < to && (to - from).is_finite() { (from, to) } else { (0.0, 1.0) };
        Self { label: label.to_owned(), unit: unit.to_owned(), from, to }
    }

    fn prefix(&self) -> (&'static str, f64) {
        let size = self.from.abs().max(self.to.abs());
        if PLAIN.contains(&self.unit.as_str()) {
            return ("", 1.0);
        }
        let fits = PREFIXES.into_iter().find(|(_, scale)| size >= *scale * 0.999);
        fits.unwrap_or(("n", 1e-9))
    }

    /// The words beside the axis: `time, ms`.
    pub(crate) fn words(&self) -> String {
        match (self.label.as_str(), self.unit.as_str()) {
            (label, "") => label.to_owned(),
            ("", unit) => format!("{}{unit}", self.prefix().0),
            (label, unit) => format!("{label}, {}{unit}", self.prefix().0),
        }
    }

    /// A value of the axis as it stands beside its tick.
    pub(crate) fn figure(&self, value: f64) -> String {
        let shown = value / self.prefix().1;
        let span = (self.to - self.from) / self.prefix().1;
        // Three digits of the span tell any two ticks apart.
        let places = (2.0 - span.log10().floor()).clamp(0.0, 6.0) as usize;
        let digits = format!("{shown:.places$}");
        let digits = match digits.contains('.') {
            true => digits.trim_end_matches('0').trim_end_matches('.'),
            false => &digits,
        };
        if digits == "-0" { "0".to_owned() } else { digits.to_owned() }
    }
}

#[cfg(test)]
mod tests {
    use super::Axis;

    #[test]
    fn the_power_of_a_thousand_is_in_the_unit() {
        let axis = Axis::of("time", "s", 0.0, 0.08);
        assert_eq!(axis.words(), "time, ms");
        assert_eq!([0.0, 0.02, 0.045].map(|v| axis.figure(v)), ["0", "20", "45"]);
        let narrow = Axis::of("level", "V", 1.2, 1.3);
        assert_eq!((narrow.words(), narrow.figure(1.225)), ("level, V".to_owned(), "1.225".to_owned()));
        assert_eq!(Axis::of("bench time", "min", 0.0, 0.5).words(), "bench time, min");
    }

    #[test]
    fn ends_that_make_no_axis_are_replaced() {
        for (from, to) in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY)] {
            let axis = Axis::of("x", "", from, to);
            assert_eq!((axis.from, axis.to), (0.0, 1.0));
        }
    }
}
