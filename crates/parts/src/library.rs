//! The cards that come with the program. Every figure has its unit in its type and its source
//! beside it; "from memory" and "judgement" say so.

use crate::thermal::SILICON_GAP;
use crate::{Bipolar, Diode, Lamp, LeadOrder, Model, Mosfet, Polarity};
use dryjoint_units::{Amps, Farads, Ohms, Seconds, Spread, Volts, Watts};

/// Names of all built-in cards.
pub const CARDS: [&str; 11] = [
    "2N3904",
    "2N3906",
    "2N2222",
    "BC547B",
    "BC557B",
    "1N4148",
    "red",
    "brightred",
    "green",
    "2N7000",
    "BSS138",
];

/// The built-in card of that name, if there is one.
pub fn library(name: &str) -> Option<Model> {
    Some(match name {
        "2N3904" => Model::Bipolar(npn_2n3904()),
        "2N3906" => Model::Bipolar(pnp_2n3906()),
        "2N2222" => Model::Bipolar(npn_2n2222()),
        "BC547B" => Model::Bipolar(npn_bc547b()),
        "BC557B" => Model::Bipolar(pnp_bc557b()),
        "1N4148" => Model::Diode(silicon_1n4148()),
        "red" => lamp(name, (1.55, 1e-3), (1.7, 20e-3), 2.0, (1e-3, 1e-4), (1.9, 0.4)),
        "brightred" => lamp(name, (1.78, 1e-3), (2.0, 20e-3), 3.0, (5e-4, 5e-5), (1.9, 0.5)),
        "green" => lamp(name, (1.88, 1e-3), (2.2, 20e-3), 5.0, (1e-3, 1e-4), (2.2, 0.3)),
        "2N7000" => Model::Mosfet(nmos_2n7000()),
        "BSS138" => Model::Mosfet(nmos_bss138()),
        _ => return None,
    })
}

/// Copies of one type differ in base–emitter voltage by some tens of millivolts at the same current
/// (datasheets of the BC547 family: 580/660/700 mV at 2 mA cover all makers; judgement for one batch).
const SPREAD_OF_VBE: Spread<Volts> = Spread { min: Volts(-0.03), typ: Volts(0.0), max: Volts(0.03) };

/// The weakest and the strongest copy, as factors.
fn within(min: f64, max: f64) -> Spread<f64> {
    Spread { min, typ: 1.0, max }
}

/// How far copies lie below and above the card, volts.
fn apart(below: f64, above: f64) -> Spread<Volts> {
    Spread { min: Volts(below), typ: Volts(0.0), max: Volts(above) }
}

fn npn_2n3904() -> Bipolar {
    Bipolar {
        polarity: Polarity::Npn,
        leads: LeadOrder::Ebc, // datasheet
        // Circulated card for the type; the datasheet's limits hold (see transport.rs).
        is: Amps(6.734e-15),
        bf: 416.4,
        ne: 1.259,
        ise: Amps(6.734e-15),
        ikf: Amps(66.78e-3),
        vaf: Volts(74.03),
        br: 0.7371,
        rb: Ohms(10.0),
        rc: Ohms(1.0),
        cje: Farads(4.493e-12),
        vje: Volts(0.75),
        mje: 0.2593,
        cjc: Farads(3.638e-12),
        vjc: Volts(0.75),
        mjc: 0.3085,
        tf: Seconds(301.2e-12),
        tr: Seconds(239.5e-9),
        xtb: 1.5,
        eg: Volts(SILICON_GAP),
        gain: within(0.63, 1.85), // hFE 100 to 300 at 10 mA: see transport.rs
        drop: SPREAD_OF_VBE,
        // Datasheet, absolute maximum ratings (from memory).
        ic_max: Amps(0.2),
        p_max: Watts(0.625),
        vebo: Volts(6.0),
        vceo: Volts(40.0),
    }
}

fn pnp_2n3906() -> Bipolar {
    Bipolar {
        polarity: Polarity::Pnp,
        leads: LeadOrder::Ebc, // datasheet
        // Circulated card for the type.
        is: Amps(1.41e-15),
        bf: 180.7,
        ne: 1.5,
        ise: Amps(0.0),
        ikf: Amps(80e-3),
        vaf: Volts(18.7),
        br: 4.977,
        rb: Ohms(10.0),
        rc: Ohms(2.5),
        cje: Farads(8.063e-12),
        // Gradings not given with the card: silicon's customary figures (judgement).
        vje: Volts(0.75),
        mje: 0.33,
        cjc: Farads(9.728e-12),
        vjc: Volts(0.75),
        mjc: 0.33,
        tf: Seconds(179.3e-12),
        tr: Seconds(33.42e-9),
        xtb: 1.5,
        eg: Volts(SILICON_GAP),
        gain: within(0.63, 1.8), // hFE 100 and 300 at 10 mA: see transport.rs
        drop: SPREAD_OF_VBE,
        // Datasheet, absolute maximum ratings (from memory).
        ic_max: Amps(0.2),
        p_max: Watts(0.625),
        vebo: Volts(5.0),
        vceo: Volts(40.0),
    }
}

fn npn_2n2222() -> Bipolar {
    Bipolar {
        polarity: Polarity::Npn,
        leads: LeadOrder::Ebc, // PN2222A datasheet; the P2N2222A case is the mirror image
        // Circulated card for the type.
        is: Amps(14.34e-15),
        bf: 255.9,
        ne: 1.307,
        ise: Amps(14.34e-15),
        ikf: Amps(0.2847),
        vaf: Volts(74.03),
        br: 6.092,
        rb: Ohms(10.0),
        rc: Ohms(1.0),
        cje: Farads(22.01e-12),
        // Gradings not given with the card: silicon's customary figures (judgement).
        vje: Volts(0.75),
        mje: 0.33,
        cjc: Farads(7.306e-12),
        vjc: Volts(0.75),
        mjc: 0.33,
        tf: Seconds(411.1e-12),
        tr: Seconds(46.91e-9),
        xtb: 1.5,
        eg: Volts(SILICON_GAP),
        gain: within(0.45, 1.6), // hFE 75 to 300 at 10 mA, datasheet from memory
        drop: SPREAD_OF_VBE,
        // Datasheet, absolute maximum ratings (from memory).
        ic_max: Amps(0.6),
        p_max: Watts(0.625),
        vebo: Volts(6.0),
        vceo: Volts(40.0),
    }
}

/// Circulated cards of this type carry a collector resistance of 40 Ω, which the datasheet's
/// saturation voltage forbids. This one is made to meet the limits: IS from VBE .66 V at 2 mA, gain
/// from the middle of class B, RC from VCEsat 90 mV at 10 mA / .5 mA (see transport.rs).
fn npn_bc547b() -> Bipolar {
    Bipolar {
        polarity: Polarity::Npn,
        leads: LeadOrder::Cbe, // datasheet
        is: Amps(15.5e-15),
        bf: 330.0,
        // Leakage such that the gain at 10 µA is about half of that at 2 mA (datasheet: 150 of 290 typ, from memory).
        ne: 1.5,
        ise: Amps(5e-14),
        ikf: Amps(0.1),   // gain about halved at 100 mA, datasheet curve from memory
        vaf: Volts(63.0), // from memory
        br: 4.0,
        rb: Ohms(10.0),
        rc: Ohms(4.0),
        // Datasheet: input 9 pF at .5 V reverse, output 3.5 pF at 10 V (from memory).
        cje: Farads(11e-12),
        vje: Volts(0.75),
        mje: 0.33,
        cjc: Farads(8e-12),
        vjc: Volts(0.75),
        mjc: 0.33,
        tf: Seconds(450e-12), // transition frequency 300 MHz (from memory)
        tr: Seconds(50e-9),   // judgement
        xtb: 1.5,
        eg: Volts(SILICON_GAP),
        gain: within(0.71, 1.48), // class B, hFE 200 to 450 at 2 mA: see transport.rs
        drop: SPREAD_OF_VBE,
        // Datasheet, absolute maximum ratings (from memory).
        ic_max: Amps(0.1),
        p_max: Watts(0.5),
        vebo: Volts(6.0),
        vceo: Volts(45.0),
    }
}

fn pnp_bc557b() -> Bipolar {
    Bipolar {
        polarity: Polarity::Pnp,
        vaf: Volts(30.0), // from memory: PNP types of the family show about half the NPN's
        vebo: Volts(5.0), // datasheet, from memory
        is: Amps(14.5e-15),
        ..npn_bc547b()
    }
}

fn silicon_1n4148() -> Diode {
    Diode {
        // Circulated card for the type; meets VF ≤ 1 V at 10 mA (see diode.rs).
        is: Amps(4.352e-9),
        n: 1.906,
        rs: Ohms(0.6458),
        cjo: Farads(0.7048e-12),
        // Not given with the card: silicon's customary figures (judgement).
        vj: Volts(0.75),
        m: 0.33,
        tt: Seconds(3.48e-9),
        bv: Volts(110.0),
        eg: Volts(SILICON_GAP),
        drop: apart(-0.05, 0.05), // judgement; the datasheet only says at most 1 V at 10 mA
        if_max: Amps(0.2),        // datasheet (from memory)
    }
}

/// A lamp through two points of its datasheet. The upper one is the typical voltage at the rated
/// current of 20 mA (red 1.7, bright red 2.0, green 2.2 V; datasheets); the lower one, at 1 mA, was
/// read off the forward curve (from memory); `rs` is judgement, and taken off both points before the
/// junction is fitted. `looks` is lit-from and dark-below: judgement, for
/// diffused lamps on a desk in room light. Then the band gap, from the light's wavelength (655 and 565 nm:
/// 1240 nm·eV over it), and how much more than typical the datasheet allows.
fn lamp(
    colour: &str,
    low: (f64, f64),
    high: (f64, f64),
    rs: f64,
    looks: (f64, f64),
    (gap, more): (f64, f64),
) -> Model {
    let point = |(v, i): (f64, f64)| (Volts(v - rs * i), Amps(i));
    let (is, n) = Diode::through(point(low), point(high)).unwrap_or((Amps(1e-18), 2.0));
    Model::Lamp(Lamp {
        junction: Diode {
            is,
            n,
            rs: Ohms(rs),
            cjo: Farads(20e-12), // from memory; DC does not feel it
            vj: Volts(1.0),
            m: 0.4,
            tt: Seconds(100e-9),
            bv: Volts(15.0), // rated 5 V reverse; breaks down somewhere from 10 to 30 V (judgement)
            eg: Volts(gap),
            drop: apart(-0.2, more), // upwards: datasheets; downwards: judgement
            if_max: Amps(30e-3),     // datasheet (from memory)
        },
        colour: colour.to_owned(),
        lit_from: Amps(looks.0),
        dark_below: Amps(looks.1),
        vr_max: Volts(5.0), // datasheets
    })
}

fn nmos_2n7000() -> Mosfet {
    Mosfet {
        polarity: Polarity::Npn,
        kp: 0.138, // A/V², university course code
        vto: Volts(2.0),
        lambda: 1.0 / 65.0,
        // Datasheet: Ciss ≤ 60 pF; shared between the two here by judgement.
        cgs: Farads(40e-12),
        cgd: Farads(10e-12),
        is: Amps(1e-14),             // body diode, judgement
        threshold: apart(-1.2, 1.0), // datasheet: .8/2.1/3.0 V
        id_max: Amps(0.2),
        p_max: Watts(0.4),
        vgs_max: Volts(20.0),
        vds_max: Volts(60.0), // all four: datasheet (from memory)
    }
}

fn nmos_bss138() -> Mosfet {
    Mosfet {
        // Made to meet the datasheet: 1 Ω typical at 4.5 V, 220 mA; threshold 1.3 V typical.
        kp: 0.33,
        vto: Volts(1.22),
        lambda: 0.02,
        cgs: Farads(27e-12),
        cgd: Farads(6e-12),
        threshold: apart(-0.42, 0.28), // datasheet: .8/1.3/1.5 V
        id_max: Amps(0.22),
        p_max: Watts(0.36),
        vds_max: Volts(50.0), // ratings: datasheet (from memory)
        ..nmos_2n7000()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Glow;

    #[test]
    fn every_card_passes_its_own_check() {
        for name in CARDS {
            let card = library(name).unwrap_or_else(|| panic!("{name} is missing"));
            assert_eq!(card.check(), [], "{name}");
        }
        assert_eq!(library("no such part"), None);
    }

    #[test]
    fn lamps_drop_what_their_datasheets_say() {
        // Datasheets: typical/greatest VF at rated current: red 1.7/2.1, bright red 2.0/2.5, green 2.2/2.5 V.
        for (name, typical, most) in [("red", 1.7, 2.1), ("brightred", 2.0, 2.5), ("green", 2.2, 2.5)] {
            let Some(Model::Lamp(lamp)) = library(name) else { panic!("{name}") };
            let (law, drop) = (lamp.junction.law(), lamp.junction.rs.0 * 0.020);
            assert!((law.current(typical - drop).0 / 0.020 - 1.0).abs() < 1e-6, "{name}");
            assert!(law.current(most - drop).0 > 0.020);
            assert_eq!(lamp.glow(Amps(0.005)), Glow::Lit);
            assert_eq!(lamp.glow(Amps(0.0)), Glow::Dark);
        }
    }
}
