//! The literate cases under `cases/commands`: command lines with what they print and how they end.
//!
//! `BLESS=1 cargo test -p dryjoint-cli --test commands` writes the outputs anew; a person then reads the
//! difference. A fenced block `file NAME` is a file the commands may read, `run` holds one command line, which may read one with `<`,
//! and the block `prints` behind it what comes out, ending with the exit code.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Words of a command line; double quotes hold words together.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, piece) in line.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(piece.to_owned());
        } else {
            words.extend(piece.split_whitespace().map(str::to_owned));
        }
    }
    words
}

/// What a command line prints, errors behind, and its exit code.
fn output(folder: &Path, line: &str) -> String {
    let (line, answers) = line.trim().split_once(" < ").unwrap_or((line.trim(), ""));
    let words = words(line);
    assert_eq!(words[0], "dryjoint", "{line}");
    let mut command = Command::new(env!("CARGO_BIN_EXE_dryjoint"));
    command.args(&words[1..]).current_dir(folder);
    if !answers.is_empty() {
        command.stdin(fs::File::open(folder.join(answers)).unwrap());
    }
    let output = command.output().unwrap();
    let mut text = String::from_utf8(output.stdout).unwrap();
    text.push_str(&String::from_utf8(output.stderr).unwrap());
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    writeln!(text, "exit code {}", output.status.code().unwrap()).unwrap();
    text
}

/// The case file with its outputs written anew.
fn anew(text: &str, folder: &Path) -> String {
    let mut out = String::new();
    let mut lines = text.lines();
    let mut printed = None;
    while let Some(line) = lines.next() {
        writeln!(out, "{line}").unwrap();
        let Some(kind) = line.strip_prefix("```") else { continue };
        let body: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        let body = body.iter().fold(String::new(), |all, line| all + line + "\n");
        match kind.split_once(' ').unwrap_or((kind, "")) {
            ("file", name) => fs::write(folder.join(name), &body).unwrap(),
            ("run", _) => printed = Some(output(folder, &body)),
            _ => {}
        }
        let body = if kind == "prints" { printed.take().expect("`prints` follows `run`") } else { body };
        writeln!(out, "{body}```").unwrap();
    }
    out
}

fn hold(name: &str) {
    let path = repository().join("cases/commands").join(name);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::create_dir_all(&folder).unwrap();
    fs::copy(repository().join("boards/dunlin.cells"), folder.join("dunlin.cells")).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains("```prints"), "{name} holds no case");
    let now = anew(&text, &folder);
    if std::env::var_os("BLESS").is_some() {
        fs::write(&path, now).unwrap();
    } else if now != text {
        let differs = text.lines().zip(now.lines()).position(|(before, now)| before != now);
        let at = differs.unwrap_or_else(|| text.lines().count().min(now.lines().count()));
        panic!(
            "{name}:{}: expected\n  {}\nbut the program prints\n  {}",
            at + 1,
            text.lines().nth(at).unwrap_or("nothing more"),
            now.lines().nth(at).unwrap_or("nothing more")
        );
    }
}

#[test]
fn parts() {
    hold("parts.md");
}

#[test]
fn levels() {
    hold("levels.md");
}

#[test]
fn find() {
    hold("find.md");
}

#[test]
fn check() {
    hold("check.md");
}

#[test]
fn plan() {
    hold("plan.md");
}

#[test]
fn priors() {
    hold("priors.md");
}

#[test]
fn plan_gates() {
    hold("plan-gates.md");
}

#[test]
fn edges() {
    hold("edges.md");
}

#[test]
fn bad_input() {
    hold("bad-input.md");
}

/// A folder with the board that README shows.
fn readme_board(name: &str) -> PathBuf {
    let readme = fs::read_to_string(repository().join("README.md")).unwrap();
    let (_, board) = readme.split_once("```board\n").expect("README shows a board");
    let (board, _) = board.split_once("```").unwrap();
    assert!(board.lines().count() <= 16, "a short board");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::create_dir_all(&folder).unwrap();
    fs::copy(repository().join("boards/dunlin.cells"), folder.join("dunlin.cells")).unwrap();
    fs::write(folder.join("register.board"), board).unwrap();
    folder
}

/// The board that README shows is a sound one, and does what README says.
#[test]
fn the_readme_board_is_sound() {
    let folder = readme_board("readme");
    let check = output(&folder, "dryjoint check register.board");
    assert!(check.ends_with("exit code 0\n"), "{check}");
    let loaded = output(&folder, "dryjoint levels register.board --do \"tie D1 low; pulse /LD\"");
    assert!(loaded.contains("# # . #"), "{loaded}");
    // A pulse later the pins are back at high, and the register still holds 1101.
    let kept = output(&folder, "dryjoint levels register.board --do \"tie D1 low; pulse /LD; release D1\"");
    assert!(kept.contains("# # . #"), "{kept}");
}

/// What README shows of the main job is what the program prints, line by line: each line up to its `…`, in
/// order.
#[test]
fn the_readme_shows_what_the_main_job_prints() {
    let readme = fs::read_to_string(repository().join("README.md")).unwrap();
    let (_, rest) = readme.split_once("--hide \"").expect("README names the fault it hides");
    let (fault, rest) = rest.split_once('"').unwrap();
    let (_, block) = rest.split_once("```\n").unwrap();
    let (block, _) = block.split_once("```").unwrap();
    let printed = output(&repository(), &format!("dryjoint --hide \"{fault}\""));
    let mut lines = printed.lines();
    let mut held = 0;
    for shown in block.lines().filter(|line| !line.trim_matches([' ', '…']).is_empty()) {
        let is_shown = |line: &str| match shown.split_once('…') {
            Some((start, _)) => line.starts_with(start),
            None => line.trim_end() == shown,
        };
        assert!(lines.any(is_shown), "not printed, or not in this order: {shown}\n{printed}");
        held += 1;
    }
    assert!(held > 20, "{held} lines");
}

#[test]
fn each_kind_of_stage_is_plotted_once() {
    let folder = readme_board("plots");
    let check = json(&folder, &["check", "register.board", "--plots", "drawn", "--json"]);
    let kinds = check["survey"]["kinds"].as_array().unwrap();
    assert!(kinds.len() > 2, "{kinds:?}");
    for kind in kinds {
        let driver = kind["drivers"][0].as_str().unwrap();
        let drawn =
            |name: &str| fs::read_to_string(folder.join(format!("drawn/{name}-{driver}.svg"))).unwrap();
        let high = format!("reads high from {:.2} V", kind["reads"][1].as_f64().unwrap());
        assert!(drawn("transfer").contains(&high), "{driver}: {high}");
        assert!(drawn("high").contains("loads of 22k"), "{driver}");
    }
}

/// A point that is not found is told with its net, what is missing there and what was tried; it is no
/// result. A rail of 100 kV across two diodes has a point, but no way leads there.
#[test]
fn what_could_not_be_solved_is_told_with_its_net() {
    let folder = readme_board("unsolved");
    let text = "board lightning \"Two diodes\"\nrail VCC 100kV limit 1A\nground GND\nJ1 header 1=GND 2=VCC\n\
        R1 10 VCC a\nD1 1N4148 a=a k=b\nD2 1N4148 a=b k=GND\n";
    fs::write(folder.join("lightning.board"), text).unwrap();
    let levels = output(&folder, "dryjoint levels lightning.board");
    assert!(levels.ends_with("exit code 3\n"), "{levels}");
    let told = levels.lines().find(|line| line.starts_with("lightning: no operating point")).unwrap();
    assert!(told.contains("net `a` misses") || told.contains("net `b` misses"), "{told}");
    for way in ["Newton's method (", "leak stepping (", "source stepping (", "pseudo-transient ("] {
        assert!(told.contains(way), "{way} is not told: {told}");
    }
    let check = json(&folder, &["check", "lightning.board", "--json"]);
    assert_eq!((&check["fine"], &check["proof"]["unsolved"]), (&false.into(), &1.into()));
    assert!(check["proof"]["no_solution"][0].as_str().unwrap().contains("net `"), "{check}");
}

fn json(folder: &Path, arguments: &[&str]) -> serde_json::Value {
    let output =
        Command::new(env!("CARGO_BIN_EXE_dryjoint")).args(arguments).current_dir(folder).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

/// A remark on a reading stands in the document with its place, and so do figures that are off. What a good board
/// shows at a net is what `levels` prints of it.
#[test]
fn figures_and_remarks_stand_in_the_document() {
    let folder = readme_board("figures");
    let readings = "after pulse /LD: B0 0.1V, supply 900mA\nafter tie D1 low: B0 9V\nafter power off: ohms VCC GND open\n";
    fs::write(folder.join("figures.txt"), readings).unwrap();
    let found = json(&folder, &["find", "register.board", "--readings", "figures.txt", "--json"]);
    let notices = found["notices"].as_array().unwrap();
    assert!(notices.iter().any(|notice| notice["place"] == "line 1"), "{notices:?}");
    assert!(notices.iter().any(|notice| notice["place"] == "line 2"), "{notices:?}");
    let figures = found["figures"].as_array().unwrap();
    let levels = json(&folder, &["levels", "register.board", "--json", "--do", "pulse /LD"]);
    let volts = figures.iter().find(|one| one["unit"] == "volts" && one["seen"] == 0.1).unwrap();
    let apart = volts["expected"].as_f64().unwrap() - levels["nets"]["B0"].as_f64().unwrap();
    assert!(volts["of"] == "B0" && apart.abs() < 0.01, "{figures:?}");
    let amps = figures.iter().find(|one| one["unit"] == "amps").unwrap();
    let apart = amps["expected"].as_f64().unwrap() - levels["supply_amps"].as_f64().unwrap();
    assert!(apart.abs() < 0.001, "{figures:?}");
    let ohms = figures.iter().find(|one| one["unit"] == "ohms").unwrap();
    assert!(ohms["of"] == "VCC to GND" && ohms["seen"].is_null() && ohms["expected"].is_f64(), "{figures:?}");
}

/// Records that were never begun are no repairs, and nothing is made of them.
#[test]
fn records_never_begun_are_none() {
    let folder = readme_board("no-records");
    let data = folder.join("data");
    let run = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dryjoint"));
        command
            .args(arguments)
            .current_dir(&folder)
            .env("XDG_DATA_HOME", &data)
            .env("HOME", &data)
            .env("APPDATA", &data)
            .output()
            .unwrap()
    };
    let priors = run(&["priors", "register.board"]);
    assert!(priors.status.success() && !data.exists(), "{priors:?}");
    let told = String::from_utf8(priors.stdout).unwrap();
    assert!(told.contains("no records yet"), "{told}");
    let export = run(&["records", "export", "out.csv"]);
    assert_eq!(export.status.code(), Some(2), "{export:?}");
    assert!(!data.exists() && !folder.join("out.csv").exists());
}

/// What the procedure expects of the lamps (the lanes) is what the circuit of the whole board shows
/// after the same actions, step by step, through the JSON that both commands print.
#[test]
fn the_circuit_shows_what_the_procedure_expects() {
    let folder = readme_board("replay");
    let plan = json(&folder, &["plan", "register.board", "--json"]);
    let mut actions = Vec::new();
    let mut compared = 0;
    for step in plan["steps"].as_array().unwrap() {
        actions.extend(step["do"].as_array().unwrap().iter().cloned());
        let done = serde_json::to_string(&actions).unwrap();
        let levels = json(&folder, &["levels", "register.board", "--json", "--do", &done]);
        for (lamp, expected) in step["expect"].as_object().unwrap() {
            assert_eq!(levels["lamps"][lamp], *expected, "step {} {lamp}", step["number"]);
            compared += 1;
        }
    }
    assert!(compared >= 4 * 4, "every lamp in at least four steps, not {compared}");
    let faults = &plan["faults"];
    let count = |name: &str| faults[name].as_u64().unwrap();
    assert_eq!(count("all"), count("shown") + count("chance") + count("never") + count("undecided"));
}

/// Of many faults that nothing can show some are named, or with `--all` each.
#[test]
fn a_plan_for_gates_names_every_fault_when_asked() {
    let folder = readme_board("all-gates");
    let outputs: Vec<String> = (0..20).map(|index| format!("y{index}")).collect();
    let gates: String = outputs.iter().map(|y| format!("  and g{y} ({y}, a, n);\n")).collect();
    let list = outputs.join(", ");
    let text =
        format!("module many (a, {list});\n  input a; output {list};\n  not (n, a);\n{gates}endmodule\n");
    fs::write(folder.join("many.v"), text).unwrap();
    let brief = output(&folder, "dryjoint plan many.v");
    assert!(brief.contains("more; `plan --all` names each."), "{brief}");
    let whole = output(&folder, "dryjoint plan many.v --all");
    assert!(!whole.contains("names each"), "{whole}");
    for y in outputs {
        assert!(whole.contains(&format!(" {y}/0: nothing shows it")), "{y}: {whole}");
    }
}

/// A copy of a board in a folder of its own, one piece of its text replaced by another.
fn copy(name: &str, board: &str, pairs: &[(&str, &str)]) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::create_dir_all(&folder).unwrap();
    fs::copy(repository().join("boards/dunlin.cells"), folder.join("dunlin.cells")).unwrap();
    let mut text = fs::read_to_string(repository().join("boards").join(board)).unwrap();
    for (from, to) in pairs {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    fs::write(folder.join(board), text).unwrap();
    folder
}

/// The first line of every warning.
fn warnings(check: &str) -> Vec<&str> {
    check.lines().filter(|line| line.starts_with("warning")).collect()
}

/// The phases of the phase board stay apart because each waits until the other's line is high again.
#[test]
fn phases_that_do_not_wait_for_each_other_fail_by_name() {
    let pairs =
        [("FIREA nor2   NO1 PH2", "FIREA nor2   NO1 NO1"), ("FIREB nor2   NO2 PH1", "FIREB nor2   NO2 NO2")];
    let check = output(&copy("overlap", "phase.board", &pairs), "dryjoint check phase.board");
    assert!(check.ends_with("exit code 1\n"), "{check}");
    // Pins that the board itself drives may be left open: nothing else is to be said of them.
    assert!(check.contains("safe: the board drives it"), "{check}");
    let [first, second] = warnings(&check)[..] else { panic!("{check}") };
    assert!(first.starts_with("warning[phases-overlap]: `/P1` begins"), "{first}");
    assert!(second.starts_with("warning[phases-overlap]: `PH1` begins"), "{second}");
}

/// A copy of the phase board whose fast clock has capacitors of 33 pF, and says so.
#[test]
fn a_clock_that_is_too_fast_fails_by_name() {
    let pairs = [("OB3 CT=1n ", "OB3 CT=33p "), ("run=10kHz", "run=307kHz")];
    let folder = copy("too-fast", "phase.board", &pairs);
    let check = output(&folder, "dryjoint check phase.board --plots plots");
    assert!(check.ends_with("exit code 1\n"), "{check}");
    let [warning] = warnings(&check)[..] else { panic!("{check}") };
    // The clock, where its switch stands, and the path that is too long, stage by stage.
    for words in ["warning[clock-fast]", "`CLK` runs at 306.8kHz with S1 at run", "Q36 `GOING`", "Q48 `/P2`"]
    {
        assert!(warning.contains(words), "{warning}");
    }
    // The part to change: the running oscillator's capacitor.
    let part = json(&folder, &["parts", "phase.board", "--json"]);
    let capacitor = |row: &&serde_json::Value| row["section"] == "ORUN" && row["kind"] == "capacitor";
    let named =
        part["parts"].as_array().unwrap().iter().find(capacitor).unwrap()["reference"].as_str().unwrap();
    assert!(check.contains(&format!("raise {named} and its twin")), "{named}: {check}");
    for start in ["plots/clock-CLK-run", "plots/phases-", "plots/reset-RES"] {
        let file = check.lines().find(|line| line.starts_with(start)).unwrap_or_else(|| panic!("{start}"));
        let svg = fs::read_to_string(folder.join(file)).unwrap();
        assert!(svg.starts_with("<svg") && svg.contains("time, "), "{file}");
    }
}

/// With its switch between two positions the clock's parts are solved like all others; turned on, they run.
#[test]
fn a_meter_reads_a_clock_that_stands_and_none_that_runs() {
    let folder = copy("standing-clock", "phase.board", &[]);
    let still = json(&folder, &["levels", "phase.board", "--json"]);
    assert_eq!(still["running"].as_array().unwrap().len(), 0);
    let volts = |net: &str| still["nets"][net].as_f64().unwrap_or_else(|| panic!("{net}"));
    // A driven base reads 0.6 to 0.7 V, its collector about 0.1 V (common practice, no source).
    assert!((0.6..0.75).contains(&volts("CK.q")) && volts("CLK") < 0.2, "{} {}", volts("CK.q"), volts("CLK"));
    // Nothing feeds the oscillators; what reads there leaks back over the resistors behind them.
    assert!(volts("FSLOW") < 1.0, "{}", volts("FSLOW"));
    let run = json(&folder, &["levels", "phase.board", "--do", "select S1 slow", "--json"]);
    let running = run["running"].as_array().unwrap();
    assert!(running.iter().any(|net| net == "OA1") && run["nets"].get("OA1").is_none(), "{running:?}");
    assert!(run["nets"].get("HOLD").is_some());
}
