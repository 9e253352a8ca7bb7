//! A sheet as one self-contained page: nothing is fetched, it prints well, and it is legible in light and
//! dark.

use crate::{Block, Sheet, StepBlock, Table};
use dryjoint_picture::escaped;
use std::fmt::Write as _;

/// The style, in the page itself.
const STYLE: &str = include_str!("sheet.css");

impl Sheet {
    /// The sheet as HTML.
    pub fn html(&self) -> String {
        let mut out = String::new();
        let (name, title) = (escaped(&self.name), escaped(&self.title));
        let _ = write!(
            out,
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
             <title>{name}: {title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
             <header><h1>{name}</h1><p>{title}</p>\n<p class=\"blanks\">"
        );
        for name in &self.blanks {
            let name = escaped(name);
            let _ = write!(out, "<label>{name} <input type=\"text\" name=\"{name}\"/></label>");
        }
        out.push_str("</p></header>\n<main>\n");
        for chapter in &self.chapters {
            let _ = writeln!(out, "<section>\n<h2>{}</h2>", escaped(&chapter.heading));
            self.blocks(&mut out, &chapter.blocks);
            out.push_str("</section>\n");
        }
        out.push_str("</main>\n</body>\n</html>\n");
        out
    }

    fn blocks(&self, out: &mut String, blocks: &[Block]) {
        let mut in_steps = false;
        for block in blocks {
            let is_step = matches!(block, Block::Step(_));
            if is_step != in_steps {
                out.push_str(if is_step { "<ol class=\"steps\">\n" } else { "</ol>\n" });
                in_steps = is_step;
            }
            match block {
                Block::Text(words) => drop(writeln!(out, "<p>{}</p>", escaped(words))),
                Block::List(points) => {
                    out.push_str("<ul>\n");
                    for point in points {
                        let _ = writeln!(out, "<li>{}</li>", escaped(point));
                    }
                    out.push_str("</ul>\n");
                }
                Block::Heading(words) => drop(writeln!(out, "<h3>{}</h3>", escaped(words))),
                Block::Drawing(drawing) => {
                    let _ = write!(out, "<figure class=\"drawing-of\">{}</figure>", sized(drawing));
                }
                Block::Table(one) => table(out, one),
                Block::Step(one) => step(out, one),
            }
        }
        if in_steps {
            out.push_str("</ol>\n");
        }
    }
}

/// A drawing as wide as it is on paper, or as its room.
fn sized(drawing: &dryjoint_picture::Drawing) -> String {
    let width = format!("<svg width=\"{:.0}mm\" ", drawing.width.ceil());
    drawing.svg().replacen("<svg ", &width, 1)
}

fn table(out: &mut String, table: &Table) {
    let class = |right: bool| if right { " class=\"number\"" } else { "" };
    let _ =
        write!(out, "<div class=\"wide\"><table>\n<caption>{}</caption>\n<thead><tr>", escaped(&table.title));
    for column in &table.columns {
        let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(column.right), escaped(&column.heading));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (index, (cell, column)) in row.iter().zip(&table.columns).enumerate() {
            let (name, scope) = if index == 0 { ("th", " scope=\"row\"") } else { ("td", "") };
            let _ = write!(out, "<{name}{scope}{}>{}</{name}>", class(column.right), escaped(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn step(out: &mut String, step: &StepBlock) {
    let number = step.number;
    let _ = write!(
        out,
        "<li value=\"{number}\"><input type=\"checkbox\" aria-label=\"step {number} as expected\"/>\
         <b>{number}</b><ul>"
    );
    for action in &step.actions {
        let _ = write!(out, "<li>{}</li>", escaped(action));
    }
    let _ = writeln!(out, "</ul>{}</li>", sized(&step.lamps));
}
