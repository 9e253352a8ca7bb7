//! The thermal voltage, and the exponential of a junction kept within numbers.

use dryjoint_units::Celsius;

/// kT/q at 27 °C (300.15 K) in volts, from the exact SI values of k and q (CODATA 2018:
/// 1.380 649e-23 J/K, 1.602 176 634e-19 C). All cards here are stated at 27 °C.
pub const THERMAL_VOLTAGE: f64 = 1.380_649e-23 * 300.15 / 1.602_176_634e-19;

/// The temperature all cards are stated at.
pub const CARD_TEMPERATURE: Celsius = Celsius(27.0);

/// Silicon's band gap as cards give it, in volts (Sze, Physics of Semiconductor Devices: 1.12 at 300 K).
pub(crate) const SILICON_GAP: f64 = 1.11;

/// How IS grows beyond the band gap's share: the power of the absolute temperature that every card of this
/// kind assumes, XTI.
const XTI: f64 = 3.0;

/// kT/q in volts.
pub(crate) fn thermal_voltage(at: Celsius) -> f64 {
    THERMAL_VOLTAGE * (at.0 + 273.15) / (CARD_TEMPERATURE.0 + 273.15)
}

/// By what a saturation current grows when the thermal voltage goes from `from` to `to`.
///
/// Law: IS(T2)/IS(T1) = (T2/T1)^(XTI/N)·e^((T2/T1 − 1)·EG/(N·VT2)); Nagel 1975, Antognetti and Massobrio,
/// Semiconductor Device Modeling.
pub(crate) fn saturation_growth(from: f64, to: f64, gap: f64, n: f64) -> f64 {
    let ratio = to / from;
    ratio.powf(XTI / n) * ((ratio - 1.0) * gap / (n * to)).exp()
}

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
    fn silicon_doubles_its_saturation_current_every_five_kelvin() {
        // Millman and Halkias, Integrated Electronics: IS of silicon about doubles every 10 °C by the
        // surface leakage a diode really shows; the law of the junction alone, 1.11 V, gives a bit under 5 °C.
        let rise = |kelvin: f64| {
            let to = thermal_voltage(Celsius(27.0 + kelvin));
            saturation_growth(THERMAL_VOLTAGE, to, SILICON_GAP, 1.0)
        };
        assert!(rise(4.0) < 2.0 && rise(5.0) > 2.0, "{} {}", rise(4.0), rise(5.0));
        assert_eq!(rise(0.0), 1.0);
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
