//! Texts made safe for where they are to stand: no sign that breaks a line, hides, or is taken for markup.

use super::format::Format;
use crate::error::shown::marked;

/// Words, those of others among them.
pub(super) fn text(text: &str, format: Format) -> String {
    let text = marked(text);
    match format {
        Format::Terminal => text,
        Format::Markdown => replaced(&text, markdown),
        Format::Latex => replaced(&text, latex),
        Format::Html => replaced(&text, html),
    }
}

/// A number that was written out: its sign and its power of ten are mathematics where these look different.
pub(super) fn number(cell: &str, format: Format) -> String {
    if format != Format::Latex {
        return text(cell, format);
    }
    let (digits, power) = cell.split_once(" x 10^").map_or((cell, None), |(digits, power)| (digits, Some(power)));
    let (sign, digits) = digits.strip_prefix('-').map_or(("", digits), |rest| ("$-$", rest));
    let power = power.map(|power| format!(r" $\times$ $10^{{{power}}}$")).unwrap_or_default();
    format!("{sign}{}{power}", text(digits, format))
}

fn replaced(text: &str, by: fn(char) -> Option<&'static str>) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match by(letter) {
            Some(mark) => out.push_str(mark),
            None => out.push(letter),
        }
    }
    out
}

fn markdown(letter: char) -> Option<&'static str> {
    Some(match letter {
        '\\' => r"\\",
        '`' => r"\`",
        '*' => r"\*",
        '_' => r"\_",
        '[' => r"\[",
        ']' => r"\]",
        '<' => r"\<",
        '>' => r"\>",
        '|' => r"\|",
        '~' => r"\~",
        '&' => r"\&",
        '$' => r"\$",
        _ => return None,
    })
}

fn latex(letter: char) -> Option<&'static str> {
    Some(match letter {
        '\\' => r"\textbackslash{}",
        '~' => r"\textasciitilde{}",
        '^' => r"\textasciicircum{}",
        '<' => r"\textless{}",
        '>' => r"\textgreater{}",
        '|' => r"\textbar{}",
        '"' => "''",
        '&' => r"\&",
        '%' => r"\%",
        '$' => r"\$",
        '#' => r"\#",
        '_' => r"\_",
        '{' => r"\{",
        '}' => r"\}",
        _ => return None,
    })
}

fn html(letter: char) -> Option<&'static str> {
    Some(match letter {
        '&' => "&amp;",
        '<' => "&lt;",
        '>' => "&gt;",
        '"' => "&quot;",
        '\'' => "&#x27;",
        _ => return None,
    })
}
