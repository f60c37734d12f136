//! Contrast of the colours, by day, by night and on paper.
//! published: WCAG 2.2, relative luminance and contrast ratio; 4.5 : 1 for text (1.4.3), 3 : 1 for graphics (1.4.11).

use std::collections::BTreeMap;
use std::fs;

use super::root;

fn luminance(colour: &str) -> f64 {
    let channel = |at: usize| {
        let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Every set of colours in the style sheet.
fn palettes() -> Vec<BTreeMap<String, String>> {
    let style = fs::read_to_string(root().join("core/report/src/page/style.css")).unwrap();
    let of = |block: &str| {
        let inner = block.split('}').next().unwrap();
        let pairs = inner.split([';', '{']).filter_map(|entry| entry.trim().strip_prefix("--")?.split_once(':'));
        pairs.map(|(name, colour)| (name.to_owned(), colour.trim().to_owned())).collect()
    };
    style.split(":root").skip(1).map(of).collect()
}

#[test]
fn the_measure_gives_the_published_ends() {
    // published: black on white is 21 : 1, a colour on itself 1 : 1.
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#777777", "#777777") - 1.0).abs() < 1e-9);
    // published: #767676 is the lightest grey that passes on white.
    assert!(contrast("#767676", "#ffffff") >= 4.5 && contrast("#777777", "#ffffff") < 4.5);
}

#[test]
fn text_and_pictures_can_be_told_from_the_paper() {
    let palettes = palettes();
    assert_eq!(palettes.len(), 3, "by day, by night and on paper");
    for palette in palettes {
        for ink in ["ink", "quiet", "deep", "good", "bad", "open"] {
            for paper in ["paper", "tint"] {
                let found = contrast(&palette[ink], &palette[paper]);
                assert!(found >= 4.5, "{ink} on {paper} has {found:.2} : 1 in {palette:?}");
            }
        }
        assert!(contrast(&palette["ink"], &palette["deep-soft"]) >= 4.5, "{palette:?}");
        assert!(contrast(&palette["quiet"], &palette["deep-soft"]) >= 3.0, "{palette:?}");
        assert!(contrast(&palette["deep"], &palette["deep-soft"]) >= 3.0, "{palette:?}");
    }
}
