//! An electrolytic the wrong way round between the supply's leads, held against the copper.
//!
//! What lamps show with it hangs on the supply. One that gives enough holds both its nets where they should be, and then
//! nothing else on the board sees anything of it: every other part sits on the nets on which it sat, and those that it touches
//! are held from outside. One that does not give enough sags, and what a sagging board shows nobody knows. So what is held
//! here is that it touches nothing but what the supply holds; and how much it would take is added up by its law.

use super::Objection;
use super::copper::between_supplies;
use super::laws::wrong_way;
use crate::Fault;
use dryjoint_board::{Board, NetId, PartId, PartKind, Supply};
use dryjoint_units::{Amps, Volts, Watts};

/// Electrolyte in series: ohms times farads (judgement, as the part's law has it).
const ELECTROLYTE: f64 = 5e-4;
/// Halvings of the voltage across the oxide: to the last bit.
const HALVINGS: usize = 60;

/// What an electrolytic the wrong way round takes from a supply that gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drain {
    /// Volts across it.
    pub volts: Volts,
    /// The current, to a decade.
    pub amps: Amps,
    /// What it turns into heat.
    pub heat: Watts,
}

/// The electrolytic that a fault has the wrong way round between two nets of the supply.
pub fn drained(board: &Board, fault: &Fault) -> Option<PartId> {
    let Fault::Reversed(part) = *fault else { return None };
    let row = &board.parts[part];
    let is_supply = |net: NetId| board.nets[net].supply.is_some();
    let held = row.pins.iter().all(|&pin| is_supply(board.pins[pin].net));
    (held && matches!(row.kind, PartKind::Capacitor { polar: true, .. })).then_some(part)
}

/// Whether a fault is that and touches nothing but what the supply holds; what it takes then.
pub fn only_drains(board: &Board, fault: &Fault) -> Result<Drain, Objection> {
    let Some(part) = drained(board, fault) else { return Err(Objection::NotBuiltIn) };
    between_supplies(board, part)?;
    let row = &board.parts[part];
    let PartKind::Capacitor { farads, .. } = row.kind else { return Err(Objection::NotBuiltIn) };
    let volts = |pin: usize| match board.nets[board.pins[row.pins[pin]].net].supply {
        Some(Supply::Rail { volts, .. }) => volts.0,
        _ => 0.0,
    };
    let across = (volts(0) - volts(1)).abs();
    let ohms = ELECTROLYTE / farads.0.max(1e-12);
    let (mut least, mut most) = (0.0, across);
    for _ in 0..HALVINGS {
        let oxide = (least + most) / 2.0;
        // More flows through the electrolyte than through the oxide: the oxide has more across it.
        if (across - oxide) / ohms > wrong_way(farads.0, oxide) { least = oxide } else { most = oxide }
    }
    let amps = (across - most) / ohms;
    Ok(Drain { volts: Volts(across), amps: Amps(amps), heat: Watts(across * amps) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_circuit::{Network, solve};

    const TEXT: &str = "board drained\nrail VCC 5V limit 10A\nground GND\nJ1 header 1=GND 2=VCC 3=A\nR1 1k VCC A\n\
        C1 47u polar +=VCC -=GND\nC2 10u polar +=A -=GND\nC3 100n VCC GND\n";

    fn board() -> Board {
        let mut loader = |_: &str| Err("no such file".to_owned());
        dryjoint_netlist::read("drained.board", TEXT, &mut loader).board.expect("a sound board")
    }

    fn fault(board: &Board, name: &str) -> Fault {
        let mut all = crate::enumerate(board).into_iter();
        all.find(|fault| fault.name(board) == name).expect("a fault")
    }

    #[test]
    fn only_what_the_supply_holds_at_both_ends_is_drained() {
        let board = board();
        assert!(only_drains(&board, &fault(&board, "C1 reversed")).is_ok());
        assert!(only_drains(&board, &fault(&board, "C2 reversed")).is_err());
        assert!(only_drains(&board, &fault(&board, "C1 missing")).is_err());
    }

    #[test]
    fn a_rail_that_no_plug_brings_is_held_by_nobody() {
        let mut board = board();
        let header = board.parts.iter().find(|(_, part)| part.reference == "J1").expect("a header").0;
        let pin = board.parts[header].pins[1];
        let part = board.parts.iter().find(|(_, part)| part.reference == "R1").expect("a resistor").0;
        // The pin that brought VCC is another part's now.
        board.pins[pin].part = part;
        assert!(matches!(only_drains(&board, &fault(&board, "C1 reversed")), Err(Objection::Hangs(_))));
    }

    /// The whole board with the fault in it and a supply that gives ten amperes: every net stands where it does without, and the
    /// difference of the supply's currents is what was added up.
    #[test]
    fn the_solver_finds_the_same_current_and_nothing_else_moved() {
        let board = board();
        let fault = fault(&board, "C1 reversed");
        let [good, mut faulty] = [(); 2].map(|()| Network::of_board(&board));
        assert!(crate::apply::apply(&board, &fault, &mut faulty));
        let [one, other] = [&good, &faulty].map(|network| solve(network).expect("a point"));
        for net in board.nets.ids() {
            let apart = one.at(&good, net).unwrap().0 - other.at(&faulty, net).unwrap().0;
            assert!(apart.abs() < 1e-6, "{}: {apart}", board.nets[net].name);
        }
        let amps = |solution: &dryjoint_circuit::Solution| {
            solution.deliveries().iter().map(|it| it.amps.0).sum::<f64>()
        };
        let drain = only_drains(&board, &fault).expect("it only drains");
        // By hand: 47 µA at 1 V and ten times that every quarter of a volt is .29 A at 1.95 V; 3.05 V across 10.6 ohms is .287 A.
        assert!((drain.amps.0 - 0.287).abs() < 0.003, "{drain:?}");
        // On the good board it leaks .01·C·V = 2.4 µA.
        assert!((amps(&other) - amps(&one) - drain.amps.0).abs() < 1e-4, "{drain:?}");
    }
}
