//! Charge of a junction's depletion layer.
//!
//! Law: Q = C0·VJ/(1−M)·(1 − (1 − v/VJ)^(1−M)); above half the built-in potential the capacitance
//! goes on as its tangent, as every card of this kind assumes (forward-bias coefficient one half,
//! the customary figure).

/// Where the power law ends, as a share of the built-in potential.
const TANGENT_FROM: f64 = 0.5;

/// Charge in coulombs and capacitance in farads at junction voltage `v`.
pub fn depletion(c0: f64, vj: f64, m: f64, v: f64) -> (f64, f64) {
    if c0 == 0.0 {
        return (0.0, 0.0);
    }
    let knee = TANGENT_FROM * vj;
    if v <= knee {
        let base = 1.0 - v / vj;
        let power = base.powf(-m);
        (c0 * vj / (1.0 - m) * (1.0 - base * power), c0 * power)
    } else {
        let base = 1.0 - TANGENT_FROM;
        let power = base.powf(-m);
        let charge = c0 * vj / (1.0 - m) * (1.0 - base * power);
        let cap = c0 * power;
        let slope = cap * m / (vj * base);
        let over = v - knee;
        (charge + cap * over + 0.5 * slope * over * over, cap + slope * over)
    }
}

#[cfg(test)]
mod tests {
    use super::depletion;
    use proptest::prelude::*;

    #[test]
    fn at_no_bias_the_capacitance_is_the_cards() {
        assert_eq!(depletion(4e-12, 0.75, 0.33, 0.0), (0.0, 4e-12));
    }

    proptest! {
        #[test]
        fn capacitance_is_the_slope_of_charge(v in -20.0f64..2.0, m in 0.1f64..0.6) {
            let h = 1e-6;
            let rise = depletion(4e-12, 0.75, m, v + h).0 - depletion(4e-12, 0.75, m, v - h).0;
            let cap = depletion(4e-12, 0.75, m, v).1;
            prop_assert!((rise / (2.0 * h) / cap - 1.0).abs() < 1e-4);
        }
    }
}
