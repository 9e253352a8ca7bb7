//! The program's main job, once, on the built-in board: a procedure, a unit with a fault hidden in it,
//! and the way from the first wrong lamp to the bad joint.
//!
//! The unit lives in the circuit solver and shares nothing with the simulation the procedure was made
//! with.

use crate::board_text::BoardText;
use crate::command::plan::{document, fault_named, planned};
use crate::exit::{Exit, Failure};
use crate::readings::{Good, Odd, Seen};
use crate::shape::{Named, Plan, Verdict as Document};
use crate::states::supply_draw;
use crate::{next_text, procedure_text, render, verdict_text};
use dryjoint_board::Board;
use dryjoint_circuit::NoSolution;
use dryjoint_draws::Draws;
use dryjoint_faults::{FaultId, Priors};
use dryjoint_logic::{Extracted, extract};
use dryjoint_procedure::{Costs, Coverage, Procedure, StepId, Study};
use dryjoint_session::{LookId, Seen as Noted, Session, Sight, Unit};
use dryjoint_units::Ohms;
use dryjoint_verdict::{Deed, Inquiry, Next};
use std::io::Write;

/// After so many deeds whatever is left counts as one.
const MOST_DEEDS: usize = 20;
/// Steps of the procedure that are printed before the work begins.
const FIRST_STEPS: usize = 6;

/// Does the whole job; `hide` names the fault, or is a number that draws one.
pub fn run(hide: &str, out: &mut impl Write) -> Result<Exit, Failure> {
    let text = BoardText::built_in()?;
    let board = text.board();
    let (extracted, notices) = extract(board);
    text.refuse_errors(&notices)?;
    text.refuse_errors(&extracted.refuse_edges())?;
    let priors = Priors::default();
    let study = Study::new(&extracted, &priors);
    let number: Option<u64> = hide.parse().ok();
    // A name is cheap to check; the procedure is not made for one that will be refused.
    let named = if number.is_none() { Some(fault_named(&study, hide)?) } else { None };
    let procedure = planned(&study);
    let plan = document(board, &study, &procedure);
    introduce(&extracted, &procedure, &plan, out)?;
    let number = number.unwrap_or(1);
    let Some(hidden) = named.or_else(|| pick(&procedure, number)) else {
        return Err(Failure::Computation("no fault of this board can be shown".to_owned()));
    };
    let heading = if named.is_some() {
        format!("A virtual unit, {hide} hidden in it")
    } else {
        format!("A virtual unit, fault number {number} hidden in it")
    };
    writeln!(out, "{}", render::heading(&heading).trim_end())?;
    let unit =
        Unit::new(&extracted, &[study.faults[hidden]], number).map_err(|failure| unsolved(&failure))?;
    let mut work = Work {
        study: &study,
        procedure: &procedure,
        plan: &plan,
        inquiry: Inquiry::new(&study, &priors),
        hidden,
        number,
        unit,
        session: Session::new(format!("virtual {number}")),
        odd: Vec::new(),
        good: Good::new(&study),
    };
    let verdict = work.play(out)?;
    reveal(&study, hidden, verdict.as_ref(), out)?;
    Ok(Exit::Fine)
}

fn introduce(
    extracted: &Extracted,
    procedure: &Procedure,
    plan: &Plan,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let board = extracted.shape.board;
    write!(out, "{}", procedure_text::set_up(board, supply_draw(extracted)))?;
    let heading = format!(
        "The procedure: {}, about {:.1} minutes; {} faults surely show{}",
        render::counted(plan.steps.len(), "step"),
        plan.bench_seconds / 60.0,
        plan.faults.shown,
        procedure_text::all_there_are(plan)
    );
    writeln!(out, "{}", render::heading(&heading).trim_end())?;
    for (id, _) in procedure.steps.iter().take(FIRST_STEPS) {
        write!(out, "{}", procedure_text::step_lines(board, procedure, id, plan))?;
    }
    if procedure.steps.len() > FIRST_STEPS {
        writeln!(out, "   …  and so on; `dryjoint plan` prints them all")?;
    }
    Ok(())
}

/// A fault that some step shows, drawn by number.
fn pick(procedure: &Procedure, number: u64) -> Option<FaultId> {
    let shown = procedure.coverage.iter().filter(|(_, coverage)| matches!(coverage, Coverage::Shown(_)));
    let shown: Vec<FaultId> = shown.map(|(fault, _)| fault).collect();
    shown.get(Draws::new(number).below(shown.len())).copied()
}

fn unsolved(failure: &NoSolution) -> Failure {
    Failure::Computation(format!("the virtual unit: {failure}"))
}

/// The work on the virtual unit.
struct Work<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    procedure: &'s Procedure,
    plan: &'s Plan,
    inquiry: Inquiry<'s, 'e, 'b>,
    hidden: FaultId,
    number: u64,
    unit: Unit<'b>,
    session: Session,
    odd: Vec<Odd>,
    good: Good<'s, 'e, 'b>,
}

impl<'s> Work<'s, '_, '_> {
    /// Plays the procedure up to the first surprise, then does what tells the suspects apart best, until
    /// nothing can.
    fn play(&mut self, out: &mut impl Write) -> Result<Option<Document>, Failure> {
        let mut quiet = 0;
        for (id, step) in self.procedure.steps.iter() {
            for &action in &step.actions {
                self.unit.act(action).map_err(|failure| unsolved(&failure))?;
            }
            let Some(look) = self.session.follow(self.procedure, id) else { continue };
            self.read(look, Some(id));
            if self.odd.is_empty() {
                quiet += 1;
                continue;
            }
            if quiet > 0 {
                writeln!(out, "      {} as expected", render::counted(quiet, "step"))?;
            }
            write!(out, "{}", procedure_text::step_lines(self.board(), self.procedure, id, self.plan))?;
            self.tell_lamps(0, out)?;
            return self.narrow_down(out).map(Some);
        }
        writeln!(out, "      every step as expected")?;
        Ok(None)
    }

    /// From the first surprise to what nothing can tell apart any more.
    fn narrow_down(&mut self, out: &mut impl Write) -> Result<Document, Failure> {
        for _ in 0..MOST_DEEDS {
            let verdict = self.inquiry.weigh(&self.session);
            let document = verdict_text::document(self.study, &self.session, &self.odd, &verdict);
            write!(out, "{}", verdict_text::brief(self.study, &verdict))?;
            let next = self.inquiry.next(self.procedure, &Costs::default(), &self.session, &verdict);
            let Ok(next) = next else { return self.tell_verdict(document, out) };
            let form = next_text::document(self.study, &next);
            writeln!(out, "{}", next_text::heading("Next", &form).trim_end())?;
            write!(out, "{}", next_text::deed(self.board(), &next))?;
            write!(out, "{}", next_text::outcomes(self.study, &next))?;
            self.carry_out(&next, out)?;
        }
        let verdict = self.inquiry.weigh(&self.session);
        self.tell_verdict(verdict_text::document(self.study, &self.session, &self.odd, &verdict), out)
    }

    fn tell_verdict(&self, document: Document, out: &mut impl Write) -> Result<Document, Failure> {
        write!(out, "{}{}", render::heading("The verdict"), verdict_text::suspects(&document))?;
        Ok(document)
    }

    /// Does the next thing on the unit and takes the reading.
    fn carry_out(&mut self, next: &Next, out: &mut impl Write) -> Result<(), Failure> {
        let board = self.board();
        if next.off && !matches!(next.deed, Deed::Ohms { .. }) {
            self.unit = Unit::new(self.study.extracted, &[self.study.faults[self.hidden]], self.number)
                .map_err(|failure| unsolved(&failure))?;
        }
        let seen = match &next.deed {
            Deed::Look { step, actions, .. } => {
                for &action in actions {
                    self.unit.act(action).map_err(|failure| unsolved(&failure))?;
                }
                let look = self.session.act(*step, actions);
                let before = self.odd.len();
                self.read(look, None);
                return self.tell_lamps(before, out);
            }
            Deed::Volts { actions, net, .. } => {
                for &action in actions {
                    self.unit.act(action).map_err(|failure| unsolved(&failure))?;
                }
                if !actions.is_empty() {
                    self.session.act(None, actions);
                }
                self.unit.volts(*net).map(|volts| Noted::Volts(*net, volts))
            }
            Deed::Supply { .. } => Some(Noted::Supply(self.unit.supply())),
            Deed::Ohms { red, black, .. } => {
                self.session.switch_off();
                let ohms = self.unit.ohms(red.net, black.net).map_err(|failure| unsolved(&failure))?;
                Some(Noted::Ohms(red.net, black.net, ohms.unwrap_or(Ohms(f64::INFINITY))))
            }
        };
        if let Some(seen) = seen {
            match seen {
                Noted::Volts(_, volts) => writeln!(out, "   read {:.2} V", volts.0)?,
                Noted::Supply(amps) => writeln!(out, "   read {amps}")?,
                Noted::Ohms(_, _, ohms) if ohms.0.is_infinite() => writeln!(out, "   no reading")?,
                Noted::Ohms(_, _, ohms) => writeln!(out, "   read {}", ohms.two_digits())?,
                _ => {}
            }
            self.session.observe(board, self.session.now(), seen);
        }
        Ok(())
    }

    fn board(&self) -> &'s Board {
        self.study.extracted.shape.board
    }

    /// Reads every lamp.
    fn read(&mut self, look: LookId, step: Option<StepId>) {
        let board = self.study.extracted.shape.board;
        for (lamp, good) in self.good.expected(&self.session, look) {
            let Some(sight) = self.unit.lamp(lamp) else { continue };
            let seen = seen(sight);
            if let Some(lit) = good
                && seen != crate::readings::seen_of(lit)
            {
                self.odd.push(Odd { step, lamp, lit, seen });
            }
            self.session.observe(board, look, Noted::Lamp(lamp, sight));
        }
    }

    /// What the lamps show, and which of them surprise.
    fn tell_lamps(&self, before: usize, out: &mut impl Write) -> Result<(), Failure> {
        let board = self.board();
        let lamps = self.study.rig.lamps.iter().filter_map(|&(lamp, _)| {
            Some((board.parts[lamp].reference.clone(), seen(self.unit.lamp(lamp)?)))
        });
        let lamps: Named<Seen> = lamps.collect();
        let odd = self.odd[before..].iter();
        let names: Vec<String> =
            odd.map(|odd| format!("{} {}", board.parts[odd.lamp].reference, odd.seen.word())).collect();
        writeln!(out, "   seen {}", render::lamp_line(board, &lamps))?;
        let surprise = if names.is_empty() { "as on a good board".to_owned() } else { names.join(", ") };
        writeln!(out, "        {surprise}")?;
        Ok(())
    }
}

fn seen(sight: Sight) -> Seen {
    match sight {
        Sight::Lit => Seen::Lit,
        Sight::Dark | Sight::NotLooked => Seen::Dark,
        Sight::Dim => Seen::Dim,
        Sight::Flickering => Seen::Flickering,
    }
}

/// Which fault it was, and whether the verdict has it.
fn reveal(
    study: &Study,
    hidden: FaultId,
    verdict: Option<&Document>,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let board = study.extracted.shape.board;
    let fault = study.faults[hidden].name(board);
    writeln!(out, "{}", render::heading("What was hidden").trim_end())?;
    let place = verdict
        .and_then(|verdict| verdict.suspects.iter().position(|suspect| suspect.faults.contains(&fault)));
    match place {
        Some(0) => writeln!(out, "{fault}: the first suspect holds it.")?,
        Some(place) => writeln!(out, "{fault}: suspect {} holds it.", place + 1)?,
        None => writeln!(out, "{fault}: no suspect holds it.")?,
    }
    writeln!(out, "{}.", study.faults[hidden].look(board))?;
    Ok(())
}
