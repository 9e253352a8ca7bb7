//! After a repair: where the steps go on, on a register of two bits.
#![allow(missing_docs, reason = "software tests")]

use dryjoint_board::{Board, PartId};
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Costs, Effort, GroupId, Replay, Study, plan, resume};
use std::path::Path;

const REGISTER: &str = "board register\nuse \"dunlin.cells\"\nrail VCC 5V limit 100mA\nground GND\n\
    J1 header 1=GND 2=VCC 3=/LD 4=D0 5=D1\nR1 4k7 VCC /LD\nR[2..3] 4k7 VCC D[#-2]\n\
    line /LD J1.3 active low \"take\"\nbus D J1.4 J1.5 \"data\"\nLD nor1 /LD LD\nEN buffer LD EN\n\
    DN[0..1] nor1 D[#] DN[#]\nBIT[0..1] take DN[#] EN B[#] BN[#]\nLA[0..1] lampdrive B[#]\n\
    lamps VALUE DS2 DS1\n";

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    dryjoint_netlist::read("register.board", REGISTER, &mut loader).board.expect("a sound board")
}

/// For every part of the board: no fault of it shows or is open before the step named, and from power-on the
/// lead brings a good board to the same lamps from there on.
#[test]
fn the_steps_go_on_where_the_repaired_part_first_shows() {
    let board = board();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let steps: Vec<&[Action]> = procedure.steps.rows().iter().map(|step| &step.actions[..]).collect();
    let groups = study.all_groups();
    let replay = Replay::of(&study, &groups, steps.iter().copied(), None);
    let wanted = replay.expected();
    let mut later = 0;
    for part in board.parts.ids() {
        let resume = resume(&study, &procedure, &[part]);
        let first = resume.step.map_or(0, Id::index);
        later += usize::from(first > 0);
        for group in groups.iter().filter(|group| has(&study, **group, part)) {
            for (look, good) in wanted[..first].iter().enumerate() {
                for (lamp, good) in good.iter().enumerate() {
                    let told = replay.shown(look, group.index(), lamp);
                    let same = good.is_none_or(|lit| told == if lit { Shown::One } else { Shown::Zero });
                    assert!(same, "{} shows before step {}", board.parts[part].reference, first + 1);
                }
            }
        }
        let own = [&resume.lead[..], steps[first]].concat();
        let looks = std::iter::once(&own[..]).chain(steps[first + 1..].iter().copied());
        assert_eq!(Replay::of(&study, &[], looks, None).expected(), wanted[first..]);
    }
    assert!(later > 0, "some part shows only later than at the first step");
}

fn has(study: &Study, group: GroupId, part: PartId) -> bool {
    let board = study.extracted.shape.board;
    study.groups[group].faults.iter().any(|&fault| study.faults[fault].parts(board).contains(&part))
}
