//! A document as one HTML page that holds all it needs: no script, no network.

use super::{Block, Figure, Table};
use crate::output::html::Frame;
use maud::{Markup, PreEscaped, html};

/// Rules for paper (A4 and letter), for narrow and for dark screens. Drawings keep their light paper in the dark: their
/// colours stand for things. On narrow screens they scroll rather than shrink until nothing can be read.
const STYLE: &str = "\
:root{color-scheme:light dark;--ink:#222428;--quiet:#5c5e62;--paper:#fcfbf8;--line:#c9c6bd;--shade:#f1efe8}\
@media (prefers-color-scheme:dark){:root{--ink:#e6e4de;--quiet:#a9a69e;--paper:#1b1d20;--line:#4a4c50;--shade:#25282c}}\
*{box-sizing:border-box}\
body{font:1rem/1.5 Georgia,'DejaVu Serif',serif;max-width:58rem;margin:0 auto;padding:1.5rem 1rem 3rem;color:var(--ink);background:var(--paper);overflow-wrap:break-word}\
h1{font-size:1.6rem;line-height:1.2;margin:.2em 0 .6em}\
h2{font-size:1.25rem;line-height:1.25;margin:2.2em 0 .5em;padding-top:.6em;border-top:1px solid var(--line)}\
h3{font-size:1.05rem;margin:1.6em 0 .4em}\
p{margin:.6em 0;max-width:44rem}ul{padding-left:1.3em}li{margin:.25em 0;max-width:44rem}\
.wide{overflow-x:auto;margin:1em 0}\
table{border-collapse:collapse;font-size:.9rem;line-height:1.35}\
caption{caption-side:bottom;text-align:left;color:var(--quiet);padding-top:.4em}\
th,td{border-bottom:1px solid var(--line);padding:.3em .8em .3em 0;text-align:left;vertical-align:top}\
td:nth-child(-n+3){white-space:nowrap}\
th{color:var(--quiet);font-weight:600;vertical-align:bottom}\
figure{margin:1.2em 0}figure svg{display:block;width:100%;min-width:38rem;height:auto;border:1px solid var(--line)}\
figcaption{color:var(--quiet);font-size:.9rem;padding-top:.4em;max-width:44rem}\
img{max-width:100%;height:auto}\
summary{cursor:pointer}pre{font-size:.75rem;line-height:1.35;background:var(--shade);padding:.8em;overflow-x:auto}\
@page{margin:16mm 15mm}\
@media print{:root{color-scheme:light;--ink:#000;--quiet:#444;--paper:#fff;--line:#bbb;--shade:#f4f4f4}\
body{font-size:10pt;max-width:none;padding:0}h1{font-size:16pt}h2{font-size:12.5pt}h3{font-size:11pt}\
p,li,figcaption{max-width:none}h2,h3{break-after:avoid}figure,tr,li,img{break-inside:avoid}thead{display:table-header-group}\
.wide{overflow:visible}table{font-size:7.5pt;line-height:1.25;width:100%}\
th,td{padding:.15em .7em .15em 0}h2{margin-top:1.4em}figure svg{min-width:0;max-height:105mm;border:0}}";

/// The document as a complete page; its first title is the page's.
#[must_use]
pub fn page(blocks: &[Block]) -> String {
    let title = blocks.iter().find_map(|block| match block {
        Block::Title(text) => Some(text.as_str()),
        _ => None,
    });
    Frame {
        title: title.unwrap_or_default(),
        style: STYLE,
        script: None,
        has_pictures: blocks
            .iter()
            .any(|block| matches!(block, Block::Picture(..))),
        body: html! {
            main {
                @for block in blocks { "\n" (element(block)) }
            }
        },
    }
    .page()
}

fn element(block: &Block) -> Markup {
    match block {
        Block::Title(text) => html! { h1 { (text) } },
        Block::Heading(text) => html! { h2 { (text) } },
        Block::Subheading(text) => html! { h3 { (text) } },
        Block::Paragraph(text) => html! { p { (text) } },
        Block::List(items) => html! { ul { @for item in items { li { (item) } } } },
        Block::Table(table) => rows(table),
        Block::Picture(file, words) => html! { p { img src=(file) alt=(words); } },
        Block::Figure(figure) => drawing(figure),
        Block::Verbatim(what, text) => html! { details { summary { (what) } pre { (text) } } },
    }
}

fn rows(table: &Table) -> Markup {
    html! {
        div.wide tabindex="0" {
            table {
                @if !table.caption.is_empty() { caption { (table.caption) } }
                thead { tr { @for heading in &table.header { th scope="col" { (heading.replace('\n', " ")) } } } }
                tbody { @for row in &table.rows { tr { @for cell in row { td { (cell) } } } } }
            }
        }
    }
}

fn drawing(figure: &Figure) -> Markup {
    // Within a page the drawing needs no name space of its own.
    let svg = figure
        .svg
        .replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
    html! {
        figure {
            div.wide tabindex="0" { (PreEscaped(svg)) }
            figcaption { (figure.words) }
        }
    }
}
