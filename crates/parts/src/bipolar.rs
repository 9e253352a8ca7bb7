//! The bipolar transistor's card: Ebers–Moll with Gummel–Poon base charge.

use crate::{BipolarLaw, LeadOrder};
use dryjoint_units::{Amps, Farads, Ohms, Seconds, Spread, Volts, Watts};

/// Which way the junctions point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Polarity {
    /// Conducts with base and collector above the emitter.
    Npn,
    /// The mirror image.
    Pnp,
}

/// A bipolar transistor's parameters at 27 °C; the names are those that cards print.
#[derive(Clone, Debug, PartialEq)]
pub struct Bipolar {
    /// NPN or PNP.
    pub polarity: Polarity,
    /// Lead order of the case.
    pub leads: LeadOrder,
    /// IS, transport saturation current.
    pub is: Amps,
    /// BF, ideal forward current gain.
    pub bf: f64,
    /// NE, base–emitter leakage emission coefficient.
    pub ne: f64,
    /// ISE, base–emitter leakage saturation current.
    pub ise: Amps,
    /// IKF, knee of the forward gain; infinite where the card has none.
    pub ikf: Amps,
    /// VAF, forward Early voltage; infinite where the card has none.
    pub vaf: Volts,
    /// BR, ideal reverse current gain.
    pub br: f64,
    /// RB, base resistance.
    pub rb: Ohms,
    /// RC, collector resistance.
    pub rc: Ohms,
    /// CJE, base–emitter junction capacitance at no bias.
    pub cje: Farads,
    /// VJE, base–emitter built-in potential.
    pub vje: Volts,
    /// MJE, base–emitter grading.
    pub mje: f64,
    /// CJC, base–collector junction capacitance at no bias.
    pub cjc: Farads,
    /// VJC, base–collector built-in potential.
    pub vjc: Volts,
    /// MJC, base–collector grading.
    pub mjc: f64,
    /// TF, forward transit time.
    pub tf: Seconds,
    /// TR, reverse transit time.
    pub tr: Seconds,
    /// XTB, how gains follow the absolute temperature: as this power of it.
    pub xtb: f64,
    /// EG, band gap.
    pub eg: Volts,
    /// What the current gain is multiplied by in the weakest and the strongest copy that keeps the datasheet's limits.
    pub gain: Spread<f64>,
    /// How far a copy's base–emitter voltage lies from the card's at the same current.
    pub drop: Spread<Volts>,
    /// Greatest collector current the datasheet allows.
    pub ic_max: Amps,
    /// Greatest dissipation in free air.
    pub p_max: Watts,
    /// Greatest reverse voltage base to emitter.
    pub vebo: Volts,
    /// Greatest voltage collector to emitter.
    pub vceo: Volts,
}

impl Bipolar {
    /// The constants of the law, ready to evaluate. Voltages and currents are those of an NPN;
    /// whoever uses the law for a PNP turns all signs.
    pub fn law(&self) -> BipolarLaw {
        BipolarLaw::new(self)
    }
}
