//! A board's timing read aloud: clocks, phases, the pulse at power-on, and the longest paths.

use crate::render;
use crate::shape::timing::{After, Beat, Delay, Path, Reset, Timing, Turn};
use dryjoint_units::{Hertz, Seconds};
use std::fmt::Write as _;

/// Edges of lines that are told of where no clock is; the document has them all.
const LINES: usize = 3;
/// Columns of a path.
const WIDTH: usize = 110;

/// The whole timing; empty where nothing moves.
pub fn text(timing: &Timing) -> String {
    let mut text = String::new();
    if !timing.clocks.is_empty() {
        text.push_str(&clocks(&timing.clocks));
    }
    for turn in &timing.phases {
        text.push_str(&phases(turn));
    }
    for one in &timing.resets {
        text.push_str(&reset(one));
    }
    text.push_str(&paths(timing));
    text
}

fn hertz(rate: f64) -> String {
    Hertz(rate).to_string()
}

fn clocks(clocks: &[Beat]) -> String {
    let mut text = render::heading("Clock");
    let rows = clocks.iter().map(|row| {
        let range = row.range_hertz.map(|[slow, fast]| format!("{} to {}", hertz(slow), hertz(fast)));
        vec![
            row.clock.clone(),
            if row.position.is_empty() { "-".to_owned() } else { row.position.clone() },
            hertz(row.stated_hertz),
            row.hertz.map_or("stands still".to_owned(), hertz),
            range.unwrap_or("-".to_owned()),
            row.duty.map_or("-".to_owned(), |duty| format!("{:.0} %", duty * 100.0)),
            row.allowed_hertz.map_or("-".to_owned(), hertz),
        ]
    });
    let head = ["clock", "at", "text says", "runs at", "copies", "high", "may run at"];
    text.push_str(&render::table(&head, &[2, 3, 4, 5, 6], rows));
    text
}

fn phases(turn: &Turn) -> String {
    let Turn { ends, begins, apart_seconds } = turn;
    if *apart_seconds > 0.0 {
        format!(
            "{ends} and {begins} are never active together: {} apart at least.\n",
            Seconds(*apart_seconds)
        )
    } else {
        format!("{ends} and {begins} are active together for {}.\n", Seconds(-apart_seconds))
    }
}

fn reset(reset: &Reset) -> String {
    let net = &reset.net;
    let level = if reset.high { "high" } else { "low" };
    let Some(width) = reset.seconds else {
        return format!("{net} is {level} from power on and is never released ({}).\n", reset.capacitor);
    };
    let mut text = format!("{net} is {level} for {} after power ({}", Seconds(width), reset.capacitor);
    if let Some([short, long]) = reset.range_seconds {
        let _ = write!(text, "; {} to {} from copy to copy", Seconds(short), Seconds(long));
    }
    let _ = match reset.edges {
        1 => writeln!(text, "), then released in one clean edge of {}.", Seconds(reset.slope_seconds)),
        more => writeln!(text, "), and is released in {more} edges."),
    };
    text
}

fn paths(timing: &Timing) -> String {
    if timing.after.is_empty() && timing.delays.is_empty() {
        return String::new();
    }
    let mut text = render::heading("Delays");
    text.push_str(&span(&timing.delays));
    if let Some(path) = &timing.longest_path {
        let _ = writeln!(text, "Longest path between storage elements, {}:", Seconds(path.seconds));
        text.push_str(&stages(path));
    }
    let longest = timing.longest_path.iter().flat_map(|path| &path.stages);
    let mut keeps = longest.into_iter().any(|hop| hop.keeps);
    for cycle in &timing.cycles {
        let (takes, rate) = (Seconds(cycle.seconds), hertz(cycle.hertz));
        let _ = writeln!(
            text,
            "{} may take turns every {takes} ({rate}), everything at rest after each of their edges.",
            cycle.phases.join(" and ")
        );
    }
    let mut after: Vec<&After> = timing.after.iter().collect();
    let clocked = |one: &&After| matches!(one.way.as_str(), "rises" | "falls");
    if after.iter().any(clocked) {
        after.retain(clocked);
    } else {
        after.sort_by(|a, b| b.path.seconds.total_cmp(&a.path.seconds));
        after.truncate(LINES);
    }
    for one in after {
        let way = if one.way.ends_with('d') { format!("is {}", one.way) } else { one.way.clone() };
        let takes = Seconds(one.path.seconds);
        let _ = writeln!(text, "After {} {way}, until everything is at rest, {takes}:", one.edge);
        text.push_str(&stages(&one.path));
        keeps |= one.path.stages.iter().any(|hop| hop.keeps);
        if one.races > 0 {
            let _ = writeln!(text, "  in {} of {} states two ways race; not timed", one.races, timing.states);
        }
    }
    if keeps {
        text.push_str("A net in [brackets] is one of a pair that keeps what was put into it.\n");
    }
    text
}

/// The fastest and the slowest stage.
fn span(delays: &[Delay]) -> String {
    let range = |of: &dyn Fn(&Delay) -> Option<f64>| {
        let all = delays.iter().filter_map(of);
        all.fold(None, |known: Option<(f64, f64)>, s| {
            Some(known.map_or((s, s), |(least, most)| (least.min(s), most.max(s))))
        })
    };
    match (range(&|one| one.rise_seconds), range(&|one| one.fall_seconds)) {
        (Some((a, b)), Some((c, d))) => {
            let [a, b, c, d] = [a, b, c, d].map(Seconds);
            format!("A stage's output rises {a} to {b} after its input, and falls {c} to {d} after it.\n")
        }
        _ => String::new(),
    }
}

/// A path stage by stage; a net in brackets keeps what was put into it.
fn stages(path: &Path) -> String {
    let words: Vec<String> = path
        .stages
        .iter()
        .map(|hop| {
            let net = if hop.keeps { format!("[{}]", hop.net) } else { hop.net.clone() };
            let way = if hop.rises { "up" } else { "down" };
            match &hop.part {
                Some(part) => format!("{part} {net} {way} {}", Seconds(hop.seconds)),
                None => format!("{net} {way}"),
            }
        })
        .collect();
    render::wrapped("  ", &words, WIDTH)
}
