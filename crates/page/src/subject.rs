//! What is on the bench: a board with everything computed about it once, for as long as the page is
//! served.

use dryjoint_board::{Access, Board, LineId, PartId, PartKind, PinId};
use dryjoint_faults::{FaultId, Priors};
use dryjoint_logic::Simulation;
use dryjoint_procedure::{Action, Costs, Procedure, Resume, Study, resume};
use dryjoint_records::Sort;
use dryjoint_session::Session;
use dryjoint_units::Amps;
use std::fmt::Write as _;

/// A board under study. It lives as long as the process: pages are made on many threads and none of
/// them may outlast it.
#[derive(Clone, Copy, Debug)]
pub struct Subject {
    /// Its faults and what they do.
    pub study: &'static Study<'static, 'static>,
    /// The steps.
    pub procedure: &'static Procedure,
    /// What each thing takes.
    pub costs: &'static Costs,
    /// How likely each kind of fault is, after what the records tell.
    pub priors: &'static Priors,
    /// The current limit to set on the supply where it was computed; else that of the board's text holds.
    pub limit: Option<Amps>,
}

/// A lead on a pin takes this long, a glance at the supply that long. The same judgement that weighs the
/// next best thing to do.
const PROBE_SECONDS: f64 = 8.0;
const GLANCE_SECONDS: f64 = 2.0;

impl Subject {
    /// A board with its steps, kept until the process ends.
    pub fn kept(study: Study<'static, 'static>, procedure: Procedure, priors: Priors) -> Self {
        Self {
            study: Box::leak(Box::new(study)),
            procedure: Box::leak(Box::new(procedure)),
            costs: Box::leak(Box::new(Costs::default())),
            priors: Box::leak(Box::new(priors)),
            limit: None,
        }
    }

    /// The board.
    pub fn board(&self) -> &'static Board {
        self.study.extracted.shape.board
    }

    /// Which text of the board this is: step numbers of another text mean something else. FNV-1a with
    /// its published constants, over the board printed flat and the steps.
    pub fn text_mark(&self) -> String {
        let steps = self.procedure.steps.rows().iter().flat_map(|step| &step.actions);
        let mut text = self.board().to_string();
        for action in steps {
            text.push_str(&self.written(*action));
        }
        let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        format!("{hash:016x}")
    }

    /// A lamp's part by reference.
    pub fn lamp(&self, reference: &str) -> Option<PartId> {
        let lamps = self.study.rig.lamps.iter().map(|(lamp, _)| *lamp);
        lamps.into_iter().find(|lamp| self.board().parts[*lamp].reference == reference)
    }

    /// A part by reference.
    pub fn part(&self, reference: &str) -> Option<PartId> {
        self.board().parts.iter().find(|(_, part)| part.reference == reference).map(|(id, _)| id)
    }

    /// A net by name.
    pub fn net(&self, name: &str) -> Option<dryjoint_board::NetId> {
        self.board().nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id)
    }

    /// A fault by name.
    pub fn fault(&self, name: &str) -> Option<FaultId> {
        let board = self.board();
        self.study.faults.iter().find(|(_, fault)| fault.name(board) == name).map(|(id, _)| id)
    }

    /// Where to go on after the repair of a fault; at the first step where it is not known what was done.
    pub fn resume(&self, fault: &str) -> Resume {
        let parts = self.fault(fault).map(|id| self.study.faults[id].parts(self.board()));
        parts.map_or(Resume::default(), |parts| resume(self.study, self.procedure, &parts))
    }

    /// `Q17.c`.
    pub fn pin_name(&self, pin: PinId) -> String {
        let pin = &self.board().pins[pin];
        format!("{}.{}", self.board().parts[pin.part].reference, pin.name)
    }

    /// An action in the words of the command line, such as `tie /LD low`.
    pub fn written(&self, action: Action) -> String {
        let board = self.board();
        let button = |part: PartId| board.parts[part].kind == PartKind::Button;
        let Some(line) = action.line() else {
            return match action {
                Action::Wait(1) => "wait 1 clock".to_owned(),
                Action::Wait(count) => format!("wait {count} clocks"),
                Action::Run(clock, position) => {
                    let row = &board.clocks[clock];
                    let switch = row.selector.map_or("", |switch| &board.parts[switch].reference);
                    let position = row.rates.get(usize::from(position)).map_or("", |rate| &rate.position);
                    format!("run {switch} {position}")
                }
                Action::Tie(_) | Action::Release(_) | Action::Pulse(_) => String::new(),
            };
        };
        let name = &board.lines[line].name;
        match (action, board.lines[line].access) {
            (Action::Tie(_), Access::TieLow) => format!("tie {name} low"),
            (Action::Tie(_), Access::TieHigh) => format!("tie {name} high"),
            (Action::Tie(_), Access::Contact(part)) if button(part) => format!("hold {name}"),
            (Action::Tie(_), Access::Contact(_)) => format!("set {name} on"),
            (Action::Release(_), Access::Contact(part)) if !button(part) => format!("set {name} off"),
            (Action::Pulse(_), Access::Contact(part)) if button(part) => format!("press {name}"),
            (Action::Pulse(_), _) => format!("pulse {name}"),
            _ => format!("release {name}"),
        }
    }

    /// Reads what [`written`](Self::written) wrote; nothing where this board has no such line.
    pub fn read_action(&self, text: &str) -> Option<Action> {
        let line = |name: &str| -> Option<LineId> {
            self.board().lines.iter().find(|(_, line)| line.name == name).map(|(id, _)| id)
        };
        match text.split_whitespace().collect::<Vec<_>>()[..] {
            ["tie", name, _] | ["hold", name] | ["set", name, "on"] => line(name).map(Action::Tie),
            ["release", name] | ["set", name, "off"] => line(name).map(Action::Release),
            ["pulse" | "press", name] => line(name).map(Action::Pulse),
            ["wait", count, _] => count.parse().ok().map(Action::Wait),
            ["run", switch, position] => self.run(switch, position),
            _ => None,
        }
    }

    /// The clock run at a position of its switch, both by name.
    fn run(&self, switch: &str, position: &str) -> Option<Action> {
        let board = self.board();
        self.study.rig.runs().find(|action| match *action {
            Action::Run(clock, at) => {
                let row = &board.clocks[clock];
                let named = row.selector.is_some_and(|part| board.parts[part].reference == switch);
                named && row.rates[usize::from(at)].position == position
            }
            _ => false,
        })
    }

    /// How long a look after these actions takes.
    pub fn look_seconds(&self, actions: &[Action]) -> f64 {
        self.acting_seconds(actions) + self.costs.look(self.study.rig.lamps.len()).0
    }

    /// How long some actions take.
    pub fn acting_seconds(&self, actions: &[Action]) -> f64 {
        actions.iter().map(|&action| self.costs.of(self.board(), action).0).sum()
    }

    /// How long a measurement takes, both leads counted.
    pub fn measure_seconds(&self, sort: Sort) -> f64 {
        match sort {
            Sort::Supply => GLANCE_SECONDS,
            Sort::Ohms => 2.0 * PROBE_SECONDS,
            Sort::Volts | Sort::Lamp | Sort::Hot | Sort::Smelt | Sort::Sound => PROBE_SECONDS,
        }
    }

    /// What each lamp of a good board does when its clock runs on from where a session stands: one value
    /// for each half period, over one full round. Nothing where the board has no clock.
    pub fn free_run(&self, session: &Session, then: &[Action]) -> Vec<(PartId, Vec<Option<bool>>)> {
        if self.board().clocks.is_empty() {
            return Vec::new();
        }
        let rig = &self.study.rig;
        let mut simulation = Simulation::new(&self.study.extracted.logic);
        let play = |simulation: &mut Simulation, moves: Vec<dryjoint_procedure::Move>| {
            for step in moves {
                for (signal, level) in step {
                    simulation.set(signal, level);
                }
                simulation.settle();
            }
        };
        play(&mut simulation, vec![rig.start()]);
        for (_, look) in session.looks().iter() {
            if look.power {
                simulation = Simulation::new(&self.study.extracted.logic);
                play(&mut simulation, vec![rig.start()]);
            }
            for &action in &look.actions {
                play(&mut simulation, rig.good_moves(action));
            }
        }
        for &action in then {
            play(&mut simulation, rig.good_moves(action));
        }
        let mut waves: Vec<(PartId, Vec<Option<bool>>)> =
            rig.lamps.iter().map(|&(lamp, _)| (lamp, Vec::new())).collect();
        for _ in 0..LONGEST_ROUND {
            for half in rig.good_moves(Action::Wait(1)) {
                play(&mut simulation, vec![half]);
                for ((_, wave), &(_, signal)) in waves.iter_mut().zip(&rig.lamps) {
                    wave.push(simulation.level(signal).value());
                }
            }
        }
        let round = round(&waves);
        for (_, wave) in &mut waves {
            wave.drain(..wave.len() - round);
        }
        waves
    }
}

/// Clock periods in which a round must close to be shown as one.
const LONGEST_ROUND: usize = 128;

/// After how many half periods all lamps repeat, looking back from the end.
fn round(waves: &[(PartId, Vec<Option<bool>>)]) -> usize {
    let all = 2 * LONGEST_ROUND;
    let repeats = |length: &usize| {
        waves.iter().all(|(_, wave)| (all / 2..all).all(|at| at < *length || wave[at] == wave[at - length]))
    };
    (1..=all / 4).map(|periods| 2 * periods).find(repeats).unwrap_or(all)
}

/// `3 looks, 1 measurement`.
pub fn counted(parts: &[(usize, &str, &str)]) -> String {
    let mut text = String::new();
    for &(count, one, many) in parts {
        let comma = if text.is_empty() { "" } else { ", " };
        let _ = write!(text, "{comma}{count} {}", if count == 1 { one } else { many });
    }
    text
}
