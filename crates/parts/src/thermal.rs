//! The thermal voltage, and the exponential of a junction kept within numbers.

/// kT/q at 27 °C (300.15 K) in volts, from the exact SI values of k and q (CODATA 2018:
/// 1.380 649e-23 J/K, 1.602 176 634e-19 C). All cards here are stated at 27 °C.
pub const THERMAL_VOLTAGE: f64 = 1.380_649e-23 * 300.15 / 1.602_176_634e-19;

/// Past this many thermal voltages the exponential goes on as its tangent, so that a wild guess
/// of a voltage gives a large number and not an infinite one. No real junction gets there: with
/// IS of 1 fA it would be 1e93 A.
const TANGENT_FROM: f64 = 250.0;

/// e^x − 1 and its derivative, as a tangent beyond [`TANGENT_FROM`].
#[inline]
pub(crate) fn growth(x: f64) -> (f64, f64) {
    if x > TANGENT_FROM {
        let e = TANGENT_FROM.exp();
        (e * (1.0 + x - TANGENT_FROM) - 1.0, e)
    } else if x < -40.0 {
        (-1.0, 0.0)
    } else {
        let e = x.exp();
        (e - 1.0, e)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thermal_voltage_is_the_textbook_26_millivolts() {
        // "VT = 25.9 mV at 300 K", semiconductor physics texts; common practice.
        assert!((THERMAL_VOLTAGE - 0.02586).abs() < 1e-5);
    }

    #[test]
    fn growth_is_continuous_and_finite() {
        let (below, _) = growth(TANGENT_FROM - 1e-9);
        let (above, slope) = growth(TANGENT_FROM + 1e-9);
        assert!((above / below - 1.0).abs() < 1e-6);
        assert!(slope.is_finite() && growth(1e6).0.is_finite());
        assert_eq!(growth(-1e6), (-1.0, 0.0));
    }
}
