//! A paper as one HTML page that asks no network, reads well at any width and prints well.
//!
//! Imports: write::{ink, papers}.

use super::{Block, Figure, Grid, Paper, Tick};
use crate::write::ink::html::{data_uri, escaped};

const STYLE: &str = include_str!("paper.css");

/// The page's bytes; `more` is HTML that stands after the blocks.
pub fn html(p: &Paper, more: &str) -> Vec<u8> {
    let mut out = head(&p.title);
    out.push_str(&format!(
        "<header><h1>{}</h1>\n<p>{}</p></header>\n<main>\n",
        escaped(&p.title),
        escaped(&p.line)
    ));
    contents(&mut out, p);
    let (mut open, mut ticks) = (false, 0);
    for b in &p.blocks {
        if let Block::Section(id, message) = b {
            if open {
                out.push_str("</section>\n");
            }
            open = true;
            out.push_str(&format!(
                "<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{}</h2>\n",
                escaped(message)
            ));
        } else {
            block(&mut out, b, &mut ticks);
        }
    }
    if open {
        out.push_str("</section>\n");
    }
    out.push_str(more);
    out.push_str("</main>\n</body>\n</html>\n");
    out.into_bytes()
}

/// Up to the body's start.
pub fn head(title: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
         style-src 'unsafe-inline'\">\n\
         <title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n",
        escaped(title)
    )
}

/// Links to the sections.
fn contents(out: &mut String, p: &Paper) {
    let sections: Vec<(&String, &String)> = p
        .blocks
        .iter()
        .filter_map(|b| match b {
            Block::Section(id, message) => Some((id, message)),
            _ => None,
        })
        .collect();
    if sections.len() < 3 {
        return;
    }
    out.push_str("<nav aria-label=\"On this sheet\">\n<ul>\n");
    for (id, message) in sections {
        out.push_str(&format!("<li><a href=\"#{id}\">{}</a></li>\n", escaped(message)));
    }
    out.push_str("</ul>\n</nav>\n");
}

fn block(out: &mut String, b: &Block, ticks: &mut usize) {
    match b {
        Block::Section(..) => {}
        Block::Heading(message) => out.push_str(&format!("<h3>{}</h3>\n", escaped(message))),
        Block::Text(message) => out.push_str(&format!("<p>{}</p>\n", escaped(message))),
        Block::Caution(title, message) => out.push_str(&caution(title, message)),
        Block::Points(points) => {
            out.push_str("<ul>\n");
            points.iter().for_each(|p| out.push_str(&format!("<li>{}</li>\n", escaped(p))));
            out.push_str("</ul>\n");
        }
        Block::Ticks(list) => {
            out.push_str("<ol class=\"ticks\">\n");
            for t in list {
                *ticks += 1;
                tick(out, t, *ticks);
            }
            out.push_str("</ol>\n");
        }
        Block::Table(grid) => table(out, grid),
        Block::File(name, text) => file(out, name, text),
        Block::Figures(figures) => {
            out.push_str("<div class=\"figures\">\n");
            figures.iter().for_each(|f| figure(out, f));
            out.push_str("</div>\n");
        }
    }
}

/// A file line by line.
fn file(out: &mut String, name: &str, text: &str) {
    out.push_str(&format!(
        "<section class=\"wide file\" aria-label=\"{0}\" tabindex=\"0\">\n<h3>{0}</h3>\n<pre><code>",
        escaped(name)
    ));
    text.lines().for_each(|l| out.push_str(&(escaped(l) + "\n")));
    out.push_str("</code></pre>\n</section>\n");
}

fn caution(title: &str, message: &str) -> String {
    format!("<p class=\"caution\"><strong>{}.</strong> {}</p>\n", escaped(title), escaped(message))
}

fn tick(out: &mut String, t: &Tick, n: usize) {
    out.push_str(&format!(
        "<li><input type=\"checkbox\" id=\"tick-{n}\"><div><label for=\"tick-{n}\">{}</label>\n",
        escaped(&t.message)
    ));
    t.more.iter().for_each(|m| out.push_str(&format!("<p>{}</p>\n", escaped(m))));
    t.cautions.iter().for_each(|(title, message)| out.push_str(&caution(title, message)));
    out.push_str("</div></li>\n");
}

/// A table; wide ones are moved sideways by themselves.
pub fn table(out: &mut String, grid: &Grid) {
    out.push_str(&format!(
        "<section class=\"wide\" aria-label=\"{0}\" \
            tabindex=\"0\">\n<table>\n<caption>{0}</caption>\n<thead><tr>",
        escaped(&grid.caption)
    ));
    for (h, right) in &grid.heads {
        let class = if *right { " class=\"n\"" } else { "" };
        out.push_str(&format!("<th scope=\"col\"{class}>{}</th>", escaped(h)));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &grid.rows {
        out.push_str("<tr>");
        for (i, (cell, (_, right))) in row.iter().zip(&grid.heads).enumerate() {
            let class = if *right { " class=\"n\"" } else { "" };
            let (tag, scope) = if i == 0 { ("th", " scope=\"row\"") } else { ("td", "") };
            out.push_str(&format!("<{tag}{scope}{class}>{}</{tag}>", escaped(cell)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
}

fn figure(out: &mut String, f: &Figure) {
    out.push_str(&format!(
        "<figure><img src=\"{}\" width=\"{}\" height=\"{}\" \
            alt=\"{}\"><figcaption>{}</figcaption></figure>\n",
        data_uri("image/png", &f.png),
        f.size.0,
        f.size.1,
        escaped(&f.alt),
        escaped(&f.caption)
    ));
}
