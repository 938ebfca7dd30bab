//! A document as Markdown.

use super::Block;
use crate::trouble::shown::on_one_line;

/// The document as Markdown. Drawings and kept text are left out: Markdown stands beside their files.
#[must_use]
pub fn markdown(blocks: &[Block]) -> String {
    blocks
        .iter()
        .map(markdown_block)
        .collect::<Vec<_>>()
        .join("\n")
}

fn markdown_block(block: &Block) -> String {
    match block {
        Block::Title(text) => format!("# {}\n", literal(text)),
        Block::Heading(text) => format!("## {}\n", literal(text)),
        Block::Subheading(text) => format!("### {}\n", literal(text)),
        Block::Paragraph(text) => format!("{}\n", opening(text)),
        Block::List(items) => items
            .iter()
            .map(|item| format!("- {}\n", opening(item)))
            .collect(),
        Block::Table(table) => {
            let line = |cells: &[String]| {
                let cells: Vec<String> = cells.iter().map(|cell| literal(cell)).collect();
                format!("| {} |\n", cells.join(" | "))
            };
            let rule: Vec<String> = table.header.iter().map(|_| "---".to_owned()).collect();
            let rows: String = table.rows.iter().map(|row| line(row)).collect();
            format!("{}| {} |\n{rows}", line(&table.header), rule.join(" | "))
        }
        Block::Picture(file, words) => format!("![{}]({file})\n", literal(words)),
        Block::Figure(_) | Block::Verbatim(..) => String::new(),
    }
}

/// Text that comes out of Markdown letter by letter: nothing in it makes HTML, a link, a picture, a heading, a list,
/// code, emphasis, a formula or the border of a cell (CommonMark 0.31 with tables and strikethrough). It stands on one
/// line. An address that is written out may be made clickable by whoever renders it, and then leads where it says.
fn literal(text: &str) -> String {
    let text = text.replace(['\n', '\r', '\t'], " ");
    let text = on_one_line(text.trim());
    let mut literal = String::with_capacity(text.len() + 8);
    let mut signs = text.chars().peekable();
    let mut before = None;
    while let Some(sign) = signs.next() {
        let after = signs.peek().copied();
        if is_markup(before, sign, after) {
            literal.push('\\');
        }
        literal.push(sign);
        before = Some(sign);
    }
    literal
}

/// Whether a sign could be markup between its neighbours; none is at the start or the end.
fn is_markup(before: Option<char>, sign: char, after: Option<char>) -> bool {
    let is_letter = |sign: Option<char>| sign.is_some_and(char::is_alphanumeric);
    let is_space = |sign: Option<char>| sign.is_none_or(char::is_whitespace);
    match sign {
        '\\' | '`' | '*' | '[' | ']' | '<' | '|' | '~' | '$' => true,
        // Within a word it emphasises nothing, as in T_night.
        '_' => !(is_letter(before) && is_letter(after)),
        '&' => after.is_some_and(|sign| sign.is_ascii_alphabetic() || sign == '#'),
        // A heading, or the end of one.
        '#' => is_space(before) || before == Some('#'),
        _ => false,
    }
}

/// As [`literal`], of text that opens a paragraph or an item, where it could also begin a list, a quotation or a rule.
fn opening(text: &str) -> String {
    let literal = literal(text);
    let digits = literal.bytes().take_while(u8::is_ascii_digit).count();
    let is_number = digits > 0 && literal[digits..].starts_with(['.', ')']);
    let is_last = |rest: &str| rest.is_empty() || rest.starts_with(' ');
    if literal.starts_with(['-', '+', '=', '>']) {
        format!("\\{literal}")
    } else if is_number && is_last(&literal[digits + 1..]) {
        format!("{}\\{}", &literal[..digits], &literal[digits..])
    } else {
        literal
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_markup_in_text_stays_text() {
        for (text, expected) in [
            ("<b>x</b> <!-- y", "\\<b>x\\</b> \\<!-- y"),
            ("![x](y) [a]: b", "!\\[x\\](y) \\[a\\]: b"),
            (
                "a | b `c` *d* _e_ ~~f~~",
                "a \\| b \\`c\\` \\*d\\* \\_e\\_ \\~\\~f\\~\\~",
            ),
            ("# x #", "\\# x \\#"),
            ("- x - y", "- x - y"),
            ("7.5 and T_night, [0, 1)", "7.5 and T_night, \\[0, 1)"),
            ("a\n# b\n\n    c", "a \\# b      c"),
            ("&lt; & a\\b $x$", "\\&lt; & a\\\\b \\$x\\$"),
            ("a\u{1b}[2J", "a\\\\u{1b}\\[2J"),
        ] {
            assert_eq!(literal(text), expected);
        }
        for (text, expected) in [
            ("- x - y", "\\- x - y"),
            ("> x", "\\> x"),
            ("12. x 3. y", "12\\. x 3. y"),
            ("2)", "2\\)"),
            ("1.5 m", "1.5 m"),
        ] {
            assert_eq!(opening(text), expected);
        }
    }
}
