//! The frame of every HTML page: one head, and one policy that lets a page do nothing but show itself.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

/// A page to be framed.
pub struct Frame<'a> {
    /// Title, as plain text.
    pub title: &'a str,
    /// Rules of the page, made by this program.
    pub style: &'a str,
    /// The page's own script, made by this program, if it has one.
    pub script: Option<&'a str>,
    /// Whether the page shows pictures that lie beside it.
    pub has_pictures: bool,
    /// What the page shows.
    pub body: Markup,
}

/// Source expression of exactly this text, by its digest (Content Security Policy Level 3, W3C).
fn only(text: &str) -> String {
    format!("'sha256-{}'", BASE64_STANDARD.encode(Sha256::digest(text)))
}

impl Frame<'_> {
    /// The page as a complete document.
    #[must_use]
    pub fn page(&self) -> String {
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(self.policy());
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) }
                    style { (PreEscaped(self.style)) }
                }
                body {
                    (self.body)
                    @if let Some(script) = self.script { script { (PreEscaped(script)) } }
                }
            }
        }
        .into_string()
            + "\n"
    }

    /// Nothing is loaded and nothing runs but the page's own rules and script, whatever got into its text.
    fn policy(&self) -> String {
        let script = self.script.map_or_else(|| "'none'".to_owned(), only);
        // A page that is opened from disk has no origin of its own in every browser: its neighbours are files.
        let pictures = if self.has_pictures {
            "'self' file:"
        } else {
            "data:"
        };
        format!(
            "default-src 'none'; style-src {}; script-src {script}; img-src {pictures}; base-uri 'none'; form-action 'none'",
            only(self.style)
        )
    }
}

/// JSON as it may stand within a `script` element: no sign is left by which a parser of HTML would find an end, a comment
/// or another script in it, nor one that ends a line of a script.
#[must_use]
pub fn within_script(json: &str) -> String {
    let mut safe = String::with_capacity(json.len());
    for sign in json.chars() {
        match sign {
            // Outside of texts JSON has none of these.
            '<' => safe.push_str("\\u003c"),
            '>' => safe.push_str("\\u003e"),
            '&' => safe.push_str("\\u0026"),
            '\u{2028}' => safe.push_str("\\u2028"),
            '\u{2029}' => safe.push_str("\\u2029"),
            _ => safe.push(sign),
        }
    }
    safe
}

/// A template whose places `{{name}}` are filled, each with HTML; what is filled in is not looked through for places.
#[must_use]
pub fn filled(template: &str, places: &[(&str, &str)]) -> String {
    let mut pieces = template.split("{{");
    let mut page = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        let (name, rest) = piece.split_once("}}").unwrap_or(("", piece));
        let found = places.iter().find(|(place, _)| *place == name);
        page += found.map_or("", |(_, html)| html);
        page += rest;
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_json_within_a_script_keeps_its_meaning() {
        let odd = "<!-- <script> </script> --> & \u{2028}\u{2029} \\u003c \" \u{1b}";
        let json = serde_json::to_string(&odd).unwrap();
        let safe = within_script(&json);
        assert!(!safe.contains(['<', '>', '&', '\u{2028}', '\u{2029}']));
        assert_eq!(serde_json::from_str::<String>(&safe).unwrap(), odd);
    }

    #[test]
    fn exact_what_is_filled_in_is_not_filled_again() {
        let page = filled("<p>{{a}}</p>{{b}}", &[("a", "{{b}}"), ("b", "x")]);
        assert_eq!(page, "<p>{{b}}</p>x");
    }
}
