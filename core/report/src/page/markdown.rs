//! Markdown as the inside of a page: tables with captions, headings that links lead to, and nothing that leads to what is not there.

use pulldown_cmark::{CodeBlockKind, CowStr, Event, Options, Parser, Tag, TagEnd};
use serde::Serialize;

use crate::xml::escaped;

/// A heading, and the name under which it is linked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Heading {
    pub level: usize,
    pub id: String,
    pub text: String,
}

/// A text, written as HTML.
#[derive(Clone, Debug, Default)]
pub struct Written {
    pub html: String,
    /// The first is that of the page.
    pub headings: Vec<Heading>,
}

/// Writes a text. `leads` says where a link leads; where it says nothing, its words stand without one.
pub fn written(text: &str, leads: &dyn Fn(&str) -> Option<String>) -> Written {
    let mut writer =
        Writer { done: Written::default(), leads, linked: Vec::new(), begun: 0, said: None, cell: "td", image: 0 };
    for event in Parser::new_ext(text, Options::ENABLE_TABLES) {
        writer.take(event);
    }
    writer.done
}

struct Writer<'a> {
    done: Written,
    leads: &'a dyn Fn(&str) -> Option<String>,
    /// Of the links around: whether each is one.
    linked: Vec<bool>,
    /// Where the paragraph or heading around begins.
    begun: usize,
    /// The words of the heading around.
    said: Option<String>,
    cell: &'static str,
    /// How many pictures are around; they lie in other files.
    image: usize,
}

impl Writer<'_> {
    fn put(&mut self, html: &str) {
        if self.image == 0 {
            self.done.html.push_str(html);
        }
    }

    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) | Event::Html(text) | Event::InlineHtml(text) => self.words(&text),
            Event::Code(text) => {
                self.put("<code>");
                self.words(&text);
                self.put("</code>");
            }
            Event::SoftBreak => self.words("\n"),
            Event::HardBreak => self.put("<br/>"),
            Event::Rule => self.put("<hr/>\n"),
            // What only extensions make, which are not asked for.
            _ => {}
        }
    }

    fn words(&mut self, text: &str) {
        if let Some(said) = &mut self.said {
            said.push_str(text);
        }
        self.put(&escaped(text));
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Paragraph => {
                self.begun = self.done.html.len();
                self.put("<p>");
            }
            Tag::Heading { .. } => {
                self.begun = self.done.html.len();
                self.said = Some(String::new());
            }
            Tag::BlockQuote(_) => self.put("<blockquote>\n"),
            Tag::CodeBlock(kind) => self.block(&kind),
            Tag::List(Some(_)) => self.put("<ol>\n"),
            Tag::List(None) => self.put("<ul>\n"),
            Tag::Item => self.put("<li>"),
            Tag::Table(_) => {
                let caption = self.done.headings.last().map(|heading| escaped(&heading.text)).unwrap_or_default();
                self.put(&format!("<table><caption class=\"unseen\">{caption}</caption>\n"));
            }
            Tag::TableHead => {
                self.cell = "th";
                self.put("<thead><tr>");
            }
            Tag::TableRow => self.put("<tr>"),
            Tag::TableCell => self.put(if self.cell == "th" { "<th scope=\"col\">" } else { "<td>" }),
            Tag::Emphasis => self.put("<em>"),
            Tag::Strong => self.put("<strong>"),
            Tag::Link { dest_url, .. } => {
                let to = (self.leads)(&dest_url);
                if let Some(to) = &to {
                    self.put(&format!("<a href=\"{}\">", escaped(to)));
                }
                self.linked.push(to.is_some());
            }
            Tag::Image { .. } => self.image += 1,
            _ => {}
        }
    }

    /// The second word behind a fence is the file that the block belongs into.
    fn block(&mut self, kind: &CodeBlockKind<'_>) {
        let told = match kind {
            CodeBlockKind::Fenced(told) => told.clone(),
            CodeBlockKind::Indented => CowStr::Borrowed(""),
        };
        if let Some((_, file)) = told.split_once(' ') {
            self.put(&format!("<p class=\"file\"><code>{}</code></p>\n", escaped(file)));
        }
        self.put("<pre><code>");
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            // One that held nothing but a picture.
            TagEnd::Paragraph if self.done.html.ends_with("<p>") => self.done.html.truncate(self.begun),
            TagEnd::Paragraph => self.put("</p>\n"),
            TagEnd::Heading(level) => self.heading(level as usize),
            TagEnd::BlockQuote(_) => self.put("</blockquote>\n"),
            TagEnd::CodeBlock => self.put("</code></pre>\n"),
            TagEnd::List(true) => self.put("</ol>\n"),
            TagEnd::List(false) => self.put("</ul>\n"),
            TagEnd::Item => self.put("</li>\n"),
            TagEnd::Table => self.put("</tbody></table>\n"),
            TagEnd::TableHead => {
                self.cell = "td";
                self.put("</tr></thead><tbody>\n");
            }
            TagEnd::TableRow => self.put("</tr>\n"),
            TagEnd::TableCell => self.put(if self.cell == "th" { "</th>" } else { "</td>" }),
            TagEnd::Emphasis => self.put("</em>"),
            TagEnd::Strong => self.put("</strong>"),
            TagEnd::Link => {
                let end = if self.linked.pop() == Some(true) { "</a>" } else { "" };
                self.put(end);
            }
            TagEnd::Image => self.image = self.image.saturating_sub(1),
            _ => {}
        }
    }

    fn heading(&mut self, level: usize) {
        let text = self.said.take().unwrap_or_default();
        let id = self.name_of(&text);
        self.done.html.insert_str(self.begun, &format!("<h{level} id=\"{id}\">"));
        self.put(&format!("</h{level}>\n"));
        self.done.headings.push(Heading { level, id, text });
    }

    /// Small letters and digits with hyphens between, as where repositories show such texts; one that is taken gets a number.
    fn name_of(&self, text: &str) -> String {
        let text = text.to_lowercase();
        let kept: String = text.chars().filter(|c| c.is_alphanumeric() || [' ', '-', '_'].contains(c)).collect();
        let plain = kept.replace(' ', "-");
        let taken = |id: &str| self.done.headings.iter().any(|heading| heading.id == id);
        match taken(&plain) {
            false => plain,
            true => (1..).map(|n| format!("{plain}-{n}")).find(|id| !taken(id)).unwrap_or(plain),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn html(text: &str) -> String {
        written(text, &|to| to.strip_suffix(".md").map(|to| format!("{to}.html"))).html
    }

    #[test]
    fn a_table_has_a_caption_and_its_headings_a_scope() {
        let table = html("## Keys\n\n| key | says |\n| --- | --- |\n| `a` | b |\n");
        assert!(table.contains("<table><caption class=\"unseen\">Keys</caption>"), "{table}");
        assert!(table.contains("<th scope=\"col\">key</th>") && table.contains("<td><code>a</code></td>"), "{table}");
    }

    #[test]
    fn headings_can_be_linked_and_none_twice() {
        let written = written("# Step by step\n\n## `do`\n\n## `do`\n", &|_| None);
        let ids: Vec<&str> = written.headings.iter().map(|heading| heading.id.as_str()).collect();
        assert_eq!(ids, ["step-by-step", "do", "do-1"]);
        assert!(written.html.contains("<h2 id=\"do-1\"><code>do</code></h2>"), "{}", written.html);
    }

    #[test]
    fn links_lead_to_pages_or_are_words() {
        assert_eq!(html("[one](a.md) and [two](b.rs)"), "<p><a href=\"a.html\">one</a> and two</p>\n");
    }

    #[test]
    fn a_picture_leaves_nothing_behind() {
        assert_eq!(html("One.\n\n![What it shows](a.png)\n\nTwo.\n"), "<p>One.</p>\n<p>Two.</p>\n");
    }

    #[test]
    fn markup_is_shown_and_a_block_names_its_file() {
        assert_eq!(html("a <b>5</b>"), "<p>a &lt;b&gt;5&lt;/b&gt;</p>\n");
        assert_eq!(
            html("```yaml shop.yaml\nshop: <x>\n```\n"),
            "<p class=\"file\"><code>shop.yaml</code></p>\n<pre><code>shop: &lt;x&gt;\n</code></pre>\n"
        );
    }
}
