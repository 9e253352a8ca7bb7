//! A model card of any kind: its parameters by name, and the check that refuses an impossible one.

use crate::thermal::SILICON_GAP;
use crate::{Bipolar, Diode, Lamp, Mosfet};
use std::fmt;

/// The card of a part that has one.
#[derive(Clone, Debug, PartialEq)]
pub enum Model {
    /// A bipolar transistor.
    Bipolar(Bipolar),
    /// A diode.
    Diode(Diode),
    /// A light-emitting diode.
    Lamp(Lamp),
    /// An enhancement MOSFET.
    Mosfet(Mosfet),
}

/// One figure of a card that cannot be true.
#[derive(Clone, Debug, PartialEq)]
pub struct CardFault {
    /// The parameter's name as cards print it.
    pub parameter: &'static str,
    /// What the card says, in the parameter's SI unit.
    pub value: f64,
    /// The least that silicon shows.
    pub least: f64,
    /// The most that silicon shows.
    pub most: f64,
    /// What is likely wrong and how to mend it.
    pub mend: String,
}

impl fmt::Display for CardFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { parameter, value, least, most, mend } = self;
        write!(f, "{parameter} is {value:e}, real parts show {least:e} to {most:e}; {mend}")
    }
}

/// One parameter of a card: its printed name, where it stands, and the range real parts show. The
/// ranges are wide (judgement): they catch a lost prefix, not a poor part.
struct Row<'a> {
    name: &'static str,
    value: &'a mut f64,
    least: f64,
    most: f64,
    /// What is taken where a card does not say; the figures of the law itself have none.
    usual: Option<f64>,
}

fn row<'a>(name: &'static str, value: &'a mut f64, least: f64, most: f64) -> Row<'a> {
    Row { name, value, least, most, usual: None }
}

impl Row<'_> {
    fn or(self, usual: f64) -> Self {
        Self { usual: Some(usual), ..self }
    }
}

fn bipolar_rows(card: &mut Bipolar) -> Vec<Row<'_>> {
    let endless = f64::INFINITY;
    vec![
        row("IS", &mut card.is.0, 1e-18, 1e-9),
        row("BF", &mut card.bf, 2.0, 5e3),
        row("NE", &mut card.ne, 1.0, 4.0),
        row("ISE", &mut card.ise.0, 0.0, 1e-8),
        row("IKF", &mut card.ikf.0, 1e-4, endless),
        row("VAF", &mut card.vaf.0, 3.0, endless),
        row("BR", &mut card.br, 0.01, 5e3),
        row("RB", &mut card.rb.0, 0.0, 1e3),
        row("RC", &mut card.rc.0, 0.0, 1e2),
        row("CJE", &mut card.cje.0, 0.0, 1e-8),
        row("VJE", &mut card.vje.0, 0.2, 1.5),
        row("MJE", &mut card.mje, 0.05, 0.9),
        row("CJC", &mut card.cjc.0, 0.0, 1e-8),
        row("VJC", &mut card.vjc.0, 0.2, 1.5),
        row("MJC", &mut card.mjc, 0.05, 0.9),
        row("TF", &mut card.tf.0, 0.0, 1e-6),
        row("TR", &mut card.tr.0, 0.0, 1e-4),
        row("XTB", &mut card.xtb, -1.0, 4.0).or(1.5),
        row("EG", &mut card.eg.0, 0.5, 2.0).or(SILICON_GAP),
        row("BFLOW", &mut card.gain.min, 0.05, 1.0).or(0.4),
        row("BFHIGH", &mut card.gain.max, 1.0, 20.0).or(1.5),
        row("VDOWN", &mut card.drop.min.0, -0.2, 0.0).or(-0.03),
        row("VUP", &mut card.drop.max.0, 0.0, 0.2).or(0.03),
        row("ICMAX", &mut card.ic_max.0, 1e-3, 1e2),
        row("PMAX", &mut card.p_max.0, 1e-2, 1e3),
        row("VEBO", &mut card.vebo.0, 0.5, 1e2),
        row("VCEO", &mut card.vceo.0, 3.0, 2e3),
    ]
}

fn diode_rows(card: &mut Diode) -> Vec<Row<'_>> {
    vec![
        row("IS", &mut card.is.0, 1e-45, 1e-3),
        row("N", &mut card.n, 0.5, 20.0),
        row("RS", &mut card.rs.0, 0.0, 1e3),
        row("CJO", &mut card.cjo.0, 0.0, 1e-7),
        row("VJ", &mut card.vj.0, 0.1, 4.0),
        row("M", &mut card.m, 0.01, 0.95),
        row("TT", &mut card.tt.0, 0.0, 1e-3),
        row("BV", &mut card.bv.0, 1.0, f64::INFINITY),
        row("EG", &mut card.eg.0, 0.5, 4.0).or(SILICON_GAP),
        row("VDOWN", &mut card.drop.min.0, -1.0, 0.0).or(-0.05),
        row("VUP", &mut card.drop.max.0, 0.0, 1.0).or(0.05),
        row("IFMAX", &mut card.if_max.0, 1e-4, 1e3),
    ]
}

fn lamp_rows(card: &mut Lamp) -> Vec<Row<'_>> {
    let mut rows = diode_rows(&mut card.junction);
    rows.push(row("LIT", &mut card.lit_from.0, 1e-7, 1.0));
    rows.push(row("DARK", &mut card.dark_below.0, 1e-9, 1.0));
    rows.push(row("VRMAX", &mut card.vr_max.0, 0.5, 1e3));
    rows
}

fn mosfet_rows(card: &mut Mosfet) -> Vec<Row<'_>> {
    vec![
        row("KP", &mut card.kp, 1e-6, 1e3),
        row("VTO", &mut card.vto.0, 0.1, 10.0),
        row("LAMBDA", &mut card.lambda, 0.0, 1.0),
        row("CGS", &mut card.cgs.0, 0.0, 1e-7),
        row("CGD", &mut card.cgd.0, 0.0, 1e-7),
        row("IS", &mut card.is.0, 1e-18, 1e-6),
        row("IDMAX", &mut card.id_max.0, 1e-3, 1e3),
        row("PMAX", &mut card.p_max.0, 1e-2, 1e3),
        row("VGSMAX", &mut card.vgs_max.0, 1.0, 1e2),
        row("VDSMAX", &mut card.vds_max.0, 3.0, 5e3),
    ]
}

impl Model {
    fn rows(&mut self) -> Vec<Row<'_>> {
        match self {
            Self::Bipolar(card) => bipolar_rows(card),
            Self::Diode(card) => diode_rows(card),
            Self::Lamp(card) => lamp_rows(card),
            Self::Mosfet(card) => mosfet_rows(card),
        }
    }

    /// Every parameter's printed name and value in SI units, in the order cards print them.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        self.clone().rows().into_iter().map(|row| (row.name, *row.value)).collect()
    }

    /// What is taken for a figure that a card may leave out (how copies differ, and what heat does);
    /// nothing for those that every card must give.
    pub fn usual(&self, name: &str) -> Option<f64> {
        self.clone().rows().into_iter().find(|row| row.name == name)?.usual
    }

    /// Sets the parameter that cards print as `name` (in capitals) to a value in SI units; false
    /// where this kind of card has no such parameter. [`check`](Self::check) judges the value.
    pub fn set(&mut self, name: &str, value: f64) -> bool {
        for row in self.rows() {
            if row.name == name {
                *row.value = value;
                return true;
            }
        }
        false
    }

    /// Every figure that cannot be true; an empty list is a card fit for use.
    pub fn check(&self) -> Vec<CardFault> {
        let mut found = Vec::new();
        for Row { name, value, least, most, .. } in self.clone().rows() {
            let value = *value;
            if !(least..=most).contains(&value) {
                found.push(CardFault {
                    parameter: name,
                    value,
                    least,
                    most,
                    mend: advice(value, least, most),
                });
            }
        }
        if let Self::Lamp(lamp) = self
            && lamp.dark_below > lamp.lit_from
        {
            found.push(CardFault {
                parameter: "DARK",
                value: lamp.dark_below.0,
                least: 1e-9,
                most: lamp.lit_from.0,
                mend: "a lamp is dark below a smaller current than the one it is lit from".to_owned(),
            });
        }
        found
    }
}

/// What probably went wrong: most often the prefix letter got lost.
fn advice(value: f64, least: f64, most: f64) -> String {
    if value.is_nan() {
        return "give a number".to_owned();
    }
    let lost = [("f", 1e-15), ("p", 1e-12), ("n", 1e-9), ("u", 1e-6), ("m", 1e-3), ("k", 1e3), ("M", 1e6)];
    let fits = lost.iter().find(|(_, scale)| value != 0.0 && (least..=most).contains(&(value * scale)));
    match fits {
        Some((letter, _)) => format!("the prefix seems lost: {value}{letter} would be possible"),
        None => "compare it with the datasheet".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use crate::library;

    #[test]
    fn a_card_that_lost_the_f_of_ise_is_refused() {
        // Some circulated 2N3904 cards miss the "f" of ISE.
        let mut card = library("2N3904").unwrap();
        assert!(card.set("ISE", 6.734));
        let found = card.check();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].parameter, "ISE");
        assert!(found[0].mend.contains("6.734f"), "{}", found[0].mend);
    }

    #[test]
    fn figures_that_are_no_numbers_are_refused() {
        for (name, value) in [("BF", f64::NAN), ("IS", 0.0), ("IS", f64::INFINITY), ("RB", -1.0)] {
            let mut card = library("2N2222").unwrap();
            assert!(card.set(name, value));
            assert_eq!(card.check().len(), 1, "{name} {value}");
        }
    }

    #[test]
    fn a_parameter_of_another_kind_is_not_set() {
        let mut card = library("1N4148").unwrap();
        assert!(!card.set("BF", 100.0));
        assert_eq!(card, library("1N4148").unwrap());
        assert_eq!(card.parameters()[0], ("IS", 4.352e-9));
    }

    #[test]
    fn a_lamp_cannot_be_dark_above_what_lights_it() {
        let mut card = library("red").unwrap();
        card.set("DARK", 0.01);
        assert_eq!(card.check().len(), 1);
    }
}
