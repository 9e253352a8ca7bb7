//! The sheets of Dunlin's boards, written on both papers and read back with the poppler tools: nothing
//! leaves its margins, nothing lies on top of another, nothing is missing.
#![allow(clippy::print_stderr, reason = "a check that is skipped says so")]

mod poppler;

use dryjoint_board::Board;
use dryjoint_faults::Priors;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_netlist::read;
use dryjoint_procedure::{Costs, Effort, Procedure, Study, in_words, plan};
use dryjoint_sheet::{Block, Paper, Sheet};
use poppler::{Page, Word};
use std::path::Path;

/// No printer can be trusted with the outermost 10 mm (common practice, no source).
const EDGE: f64 = 10.0 * 72.0 / 25.4;

fn board(file: &str) -> Board {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards/");
    let text = |name: &str| std::fs::read(format!("{folder}{name}")).map_err(|error| error.to_string());
    let mut loader = |name: &str| text(name);
    let reading = read(file, text(file).unwrap_or_else(|error| panic!("{file}: {error}")), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

fn sheet(board: &Board) -> (Sheet, Procedure) {
    let (extracted, _) = extract(board);
    let study = Study::new(&extracted, &Priors::default());
    // Little effort would make a longer list, and what follows it through takes longer than the search.
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let image = dryjoint_netlist::image::read("count.hex", include_bytes!("../../../boards/count.hex"));
    let words = image.image.expect("a sound image").bytes;
    (Sheet::of(&study, &procedure, &Priors::default(), None).with_memory("count.hex", &words), procedure)
}

#[test]
fn the_address_board_fits_on_both_papers() {
    hold("address.board");
}

#[test]
fn the_phase_board_fits_on_both_papers() {
    hold("phase.board");
}

fn hold(name: &str) {
    let board = board(name);
    let (sheet, procedure) = sheet(&board);
    hold_content(&board, &sheet, &procedure);
    hold_html(&sheet, &procedure);
    hold_trouble(&sheet);
    hold_end(&sheet);
    let readable = poppler::is_here();
    for paper in [Paper::A4, Paper::Letter] {
        let pdf = sheet.pdf(paper).expect("the sheet is written");
        assert!(pdf == sheet.pdf(paper).expect("and again"), "the same sheet gives the same bytes");
        assert!(pdf.starts_with(b"%PDF-1.") && pdf.len() < 400_000, "{} bytes", pdf.len());
        if readable {
            hold_pdf(&sheet, paper, &poppler::file(&format!("{name}-{paper:?}.pdf"), &pdf));
        }
    }
}

/// Every chapter is there, and every step with all its actions.
fn hold_content(board: &Board, sheet: &Sheet, procedure: &Procedure) {
    let headings: Vec<&str> = sheet.chapters.iter().map(|chapter| chapter.heading.as_str()).collect();
    let wanted = [
        "Before you switch on",
        "Supply",
        "What to tie",
        "Lamps",
        "Steps",
        "Meter",
        "Memory",
        "A lamp is wrong",
        "Where the parts are",
    ];
    assert_eq!(headings, wanted);
    let steps: Vec<_> = sheet
        .chapters
        .iter()
        .flat_map(|chapter| &chapter.blocks)
        .filter_map(|block| if let Block::Step(step) = block { Some(step) } else { None })
        .collect();
    assert_eq!(steps.len(), procedure.steps.len());
    for ((id, step), block) in procedure.steps.iter().zip(steps) {
        assert_eq!(block.number, id.index() + 1);
        assert!(block.actions.ends_with(&in_words(board, &step.actions)), "step {}", block.number);
        for (lamp, _) in &step.expect {
            let reference = &board.parts[*lamp].reference;
            assert!(block.lamps.title.contains(reference), "step {} tells {reference}", block.number);
        }
    }
}

/// What a row of the fault-finding table says to look at first is at the part that it names first.
fn hold_trouble(sheet: &Sheet) {
    let rows = sheet.chapters.iter().filter(|chapter| chapter.heading == "A lamp is wrong");
    let rows = rows.flat_map(|chapter| &chapter.blocks).filter_map(|block| match block {
        Block::Table(table) => Some(&table.rows),
        _ => None,
    });
    let mut several = 0;
    for row in rows.flatten() {
        let Some((parts, first)) = row[3].split_once(". First ") else { continue };
        let part = parts.split(' ').next().unwrap_or_default();
        let (fault, _) = first.split_once(": ").expect("a fault and what to look at");
        let words: Vec<&str> = fault.split(['.', '-', ' ']).collect();
        assert!(words.contains(&part), "`{}` begins with two orders", row[3]);
        several += 1;
    }
    assert!(several > 10, "{several} rows name several parts");
}

/// After the last step the hands are told to switch off.
fn hold_end(sheet: &Sheet) {
    let steps = sheet.chapters.iter().find(|chapter| chapter.heading == "Steps").expect("there are steps");
    let Some(Block::Text(last)) = steps.blocks.last() else { panic!("the steps end with words") };
    assert!(last.contains("supply off") && last.contains("jumper off"), "{last}");
}

fn hold_pdf(sheet: &Sheet, paper: Paper, path: &Path) {
    let fonts = poppler::fonts(path);
    assert_eq!(fonts.len(), 2, "{fonts:?}");
    assert!(fonts.iter().all(|(_, embedded, cut)| *embedded && *cut), "{fonts:?}");
    let pages = poppler::pages(path);
    assert!((6..=24).contains(&pages.len()), "{} pages", pages.len());
    let (width, height) = match paper {
        Paper::A4 => (595.28, 841.89),
        Paper::Letter => (612.0, 792.0),
    };
    for (index, page) in pages.iter().enumerate() {
        let number = index + 1;
        let size = (page.width.min(page.height), page.width.max(page.height));
        assert!((size.0 - width).abs() < 0.1 && (size.1 - height).abs() < 0.1, "{size:?}");
        hold_page(page, number);
        let picture = poppler::picture(path, number, 50);
        hold_picture(&picture, number);
        let text: Vec<&str> = page.words.iter().map(|word| word.text.as_str()).collect();
        let footer = format!("page {number} of {}", pages.len());
        assert!(text.join(" ").contains(&footer), "page {number} bears its number");
    }
    let all: Vec<&str> = pages.iter().flat_map(|page| &page.words).map(|word| word.text.as_str()).collect();
    let all = all.join(" ");
    for said in said(sheet) {
        assert!(all.contains(&said), "{paper:?}: `{said}` is missing");
    }
}

/// Everything that must be legible: texts, cells, and each step's number with its actions in order.
fn said(sheet: &Sheet) -> Vec<String> {
    let mut said = vec![sheet.name.clone(), sheet.title.clone()];
    for chapter in &sheet.chapters {
        said.push(chapter.heading.clone());
        for block in &chapter.blocks {
            match block {
                // A paragraph may go on on the next page, behind what stands at the pages' edges.
                Block::Text(words) => said.extend(words.split(". ").map(first_words)),
                Block::Heading(words) => said.push(words.clone()),
                Block::List(points) => said.extend(points.clone()),
                Block::Table(table) => said.extend(table.rows.iter().flatten().cloned()),
                Block::Step(step) => said.push(format!("{} {}", step.number, step.actions.join(" "))),
                Block::Drawing(_) => {}
            }
        }
    }
    said.into_iter().map(|said| said.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

fn first_words(sentence: &str) -> String {
    sentence.split_whitespace().take(3).collect::<Vec<_>>().join(" ")
}

/// No word leaves the printable part, no two lie on each other.
fn hold_page(page: &Page, number: usize) {
    for word in &page.words {
        let inside = word.left >= EDGE
            && word.top >= EDGE
            && word.right <= page.width - EDGE
            && word.bottom <= page.height - EDGE;
        assert!(inside, "page {number}: {word:?}");
    }
    // Boxes reach from the highest to the lowest letter of the font; a hair of them may touch.
    let hair = 0.3;
    let over = |a: &Word, b: &Word| {
        a.left + hair < b.right
            && b.left + hair < a.right
            && a.top + hair < b.bottom
            && b.top + hair < a.bottom
    };
    for (index, word) in page.words.iter().enumerate() {
        if let Some(other) = page.words[index + 1..].iter().find(|other| over(word, other)) {
            panic!("page {number}: {word:?} lies on {other:?}");
        }
    }
}

/// Nothing at all is drawn on the edge, and something is drawn inside.
fn hold_picture(picture: &poppler::Picture, number: usize) {
    let edge = (EDGE * 50.0 / 72.0) as usize - 1;
    let mut ink = 0;
    for (at, grey) in picture.greys.iter().enumerate() {
        let (x, y) = (at % picture.width, at / picture.width);
        let inside = (edge..picture.width - edge).contains(&x) && (edge..picture.height - edge).contains(&y);
        assert!(
            inside || *grey > 250,
            "page {number}: ink at {x}, {y} of {} × {}",
            picture.width,
            picture.height
        );
        ink += usize::from(*grey < 128);
    }
    assert!(ink > 200, "page {number} is empty");
}

/// The page of the same content: sound, self-contained, tables that can be read out.
fn hold_html(sheet: &Sheet, procedure: &Procedure) {
    let html = sheet.html();
    let body = html.strip_prefix("<!DOCTYPE html>\n").expect("it is HTML 5");
    let tree = roxmltree::Document::parse(body).unwrap_or_else(|error| panic!("{error}"));
    let nodes = || tree.descendants().filter(|node| node.is_element());
    for node in nodes() {
        for attribute in ["src", "href", "action", "onclick"] {
            assert!(!node.has_attribute(attribute), "nothing is fetched and nothing runs: {attribute}");
        }
    }
    assert!(!html.contains("url(") && !html.contains("@import") && !html.contains("<script"));
    let tables = nodes().filter(|node| node.has_tag_name("table"));
    for table in tables {
        let has = |name: &str| table.descendants().any(|node| node.has_tag_name(name));
        assert!(has("caption") && has("thead"), "a table says what it is of");
        let heads = table.descendants().filter(|node| node.has_tag_name("th"));
        assert!(heads.into_iter().all(|head| head.has_attribute("scope")));
    }
    let ticks = nodes().filter(|node| node.attribute("type") == Some("checkbox")).count();
    assert_eq!(ticks, procedure.steps.len());
    let pictures = nodes().filter(|node| node.tag_name().name() == "svg");
    assert!(
        pictures
            .into_iter()
            .all(|picture| picture.attribute("aria-label").is_some_and(|label| !label.is_empty()))
    );
}

#[test]
#[ignore = "slow: writes the sheets into the folder that SHEETS names, for a person to look at"]
fn sheets_to_look_at() {
    let folder = std::env::var("SHEETS").expect("SHEETS names a folder");
    for file in ["phase.board", "address.board"] {
        let board = board(file);
        let (sheet, _) = sheet(&board);
        for paper in [Paper::A4, Paper::Letter] {
            let pdf = sheet.pdf(paper).expect("the sheet is written");
            std::fs::write(format!("{folder}/{file}-{paper:?}.pdf"), pdf).expect("the folder takes files");
        }
        std::fs::write(format!("{folder}/{file}.html"), sheet.html()).expect("the folder takes files");
    }
}
