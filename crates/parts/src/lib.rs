//! What a part is in itself, apart from any board: its kind, its model card, its leads, its law.
//!
//! The main type is [`Model`], the card of a semiconductor or lamp; the main verb is
//! [`Model::check`], which refuses a card whose figures cannot be true. Each law is a pure function
//! of junction voltages that returns currents (or charges) with their derivatives.

mod bipolar;
mod depletion;
mod diode;
mod electrolytic;
mod lamp;
mod leads;
mod library;
mod model;
mod mosfet;
mod thermal;
mod transport;

pub use bipolar::{Bipolar, Polarity};
pub use depletion::depletion;
pub use diode::{Diode, DiodeLaw};
pub use electrolytic::Leakage;
pub use lamp::{Glow, Lamp, Looks};
pub use leads::{Lead, LeadOrder};
pub use library::{CARDS, library};
pub use model::{CardFault, Model};
pub use mosfet::{Mosfet, MosfetLaw};
pub use thermal::{CARD_TEMPERATURE, THERMAL_VOLTAGE};
pub use transport::{BipolarCharges, BipolarCurrents, BipolarLaw};
