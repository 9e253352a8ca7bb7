//! The procedure, step by step, each with a box to tick.

use super::signs;
use crate::{Block, Chapter, Layout, StepBlock};
use dryjoint_board::PartId;
use dryjoint_ids::Id;
use dryjoint_picture::lamps;
use dryjoint_procedure::{Procedure, Step, StepId, Study, in_words};

pub fn chapter(study: &Study, procedure: &Procedure) -> Chapter {
    let board = study.extracted.shape.board;
    let (shown, _) = procedure.shown();
    let all = procedure.coverage.len();
    let mut blocks = vec![Block::Text(format!(
        "Do the steps in order. After each, compare every lamp and tick the box. At the first lamp that differs \
         stop, and look the step up under “A lamp is wrong”. {} step{}, about {:.0} minutes; they surely show \
         {shown} of all {all} build faults.",
        procedure.steps.len(),
        if procedure.steps.len() == 1 { "" } else { "s" },
        (procedure.bench_seconds().0 / 60.0).max(1.0)
    ))];
    let mut before: Option<&[(PartId, Option<bool>)]> = None;
    let mut heading: Option<&str> = None;
    for (id, step) in procedure.steps.iter() {
        if heading != Some(&step.heading) {
            heading = Some(&step.heading);
            let under = procedure.steps.iter().skip(id.index());
            let seconds: f64 = under
                .map(|(_, step)| step)
                .take_while(|step| Some(step.heading.as_str()) == heading)
                .map(|step| step.seconds.0)
                .sum();
            blocks.push(Block::Heading(format!("{} · about {seconds:.0} s", capital(&step.heading))));
        }
        let drawing = lamps(&signs::rows(board, &step.expect, before), signs::WIDTH, false);
        blocks.push(Block::Step(StepBlock {
            number: id.index() + 1,
            actions: actions(study, id, step),
            lamps: drawing,
        }));
        before = Some(&step.expect);
    }
    blocks.push(Block::Text("Done: switch the supply off, then take every jumper off.".to_owned()));
    Chapter { heading: "Steps".to_owned(), layout: Layout::NewPage, blocks }
}

/// What the hands do, in words.
fn actions(study: &Study, id: StepId, step: &Step) -> Vec<String> {
    let board = study.extracted.shape.board;
    let power = (id.index() == 0).then(|| "switch the supply on".to_owned());
    let mut words: Vec<String> = power.into_iter().chain(in_words(board, &step.actions)).collect();
    if words.is_empty() {
        words.push("look at the lamps".to_owned());
    }
    words
}

/// With a capital letter at the beginning.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
