//! A small line chart as SVG: enough for the figures of a score.

use std::fmt::Write;

/// One line of a chart.
pub(super) struct Series {
    /// Named beside its last point.
    pub(super) name: String,
    /// Points, x and y.
    pub(super) points: Vec<(f64, f64)>,
    /// Marks alone, without a line.
    pub(super) marks_only: bool,
}

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 400.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 150.0;
const TOP: f64 = 36.0;
const BOTTOM: f64 = 52.0;
/// Told apart by dash and mark too, not by colour alone.
const STROKES: [(&str, &str); 4] = [
    ("#1b4965", ""),
    ("#b3541e", "6 4"),
    ("#3a7d44", "2 3"),
    ("#6b2d5c", "10 3 2 3"),
];

/// A chart of `series` over axes from zero to `x_most` and `y_most`.
pub(super) fn chart(title: &str, x: (&str, f64), y: (&str, f64), series: &[Series]) -> String {
    let (x_name, x_most) = (x.0, x.1.max(1e-9));
    let (y_name, y_most) = (y.0, y.1.max(1e-9));
    let at_x = |v: f64| LEFT + (WIDTH - LEFT - RIGHT) * (v / x_most).clamp(0.0, 1.0);
    let at_y = |v: f64| HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (v / y_most).clamp(0.0, 1.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-family=\"sans-serif\" font-size=\"12\">\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\
         <text x=\"{LEFT}\" y=\"20\" font-size=\"14\">{title}</text>"
    );
    for i in 0..=5 {
        let part = f64::from(i) / 5.0;
        let (gx, gy) = (at_x(x_most * part), at_y(y_most * part));
        let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            "<path d=\"M{gx:.1} {TOP}V{bottom}M{LEFT} {gy:.1}H{right}\" stroke=\"#ddd\"/>\
             <text x=\"{gx:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
            bottom + 16.0,
            tick(x_most * part),
            LEFT - 6.0,
            gy + 4.0,
            tick(y_most * part),
        );
    }
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{x_name}</text>\
         <text transform=\"translate(14 {:.1}) rotate(-90)\" text-anchor=\"middle\">{y_name}</text>",
        (LEFT + WIDTH - RIGHT) / 2.0,
        HEIGHT - 14.0,
        (TOP + HEIGHT - BOTTOM) / 2.0,
    );
    for (i, one) in series.iter().enumerate() {
        let (colour, dash) = STROKES[i % STROKES.len()];
        let points: Vec<(f64, f64)> = one
            .points
            .iter()
            .map(|(x, y)| (at_x(*x), at_y(*y)))
            .collect();
        if !one.marks_only {
            let path: Vec<String> = points
                .iter()
                .map(|(x, y)| format!("{x:.1} {y:.1}"))
                .collect();
            let _ = write!(
                out,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"/>",
                path.join(" ")
            );
        }
        for (x, y) in &points {
            let _ = match i % 2 {
                0 => write!(
                    out,
                    "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" fill=\"{colour}\"/>"
                ),
                _ => write!(
                    out,
                    "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"6\" height=\"6\" fill=\"{colour}\"/>",
                    x - 3.0,
                    y - 3.0
                ),
            };
        }
        let y = TOP + 14.0 + 18.0 * i as f64;
        let _ = write!(
            out,
            "<path d=\"M{:.1} {:.1}h18\" stroke=\"{colour}\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"/>\
             <text x=\"{:.1}\" y=\"{y:.1}\" font-size=\"11\">{}</text>",
            WIDTH - RIGHT + 8.0,
            y - 4.0,
            WIDTH - RIGHT + 30.0,
            one.name
        );
    }
    out.push_str("</svg>\n");
    out
}

fn tick(value: f64) -> String {
    if value >= 10.0 || value == value.round() {
        format!("{value:.0}")
    } else {
        format!("{value:.2}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_stands_where_its_axes_say() {
        let series = [Series {
            name: "a".to_owned(),
            points: vec![(0.0, 0.0), (50.0, 5.0)],
            marks_only: true,
        }];
        let svg = chart("t", ("x", 100.0), ("y", 10.0), &series);
        // The middle of both axes, and their corner.
        assert!(svg.contains("cx=\"277.0\" cy=\"192.0\""), "{svg}");
        assert!(svg.contains("cx=\"64.0\" cy=\"348.0\""), "{svg}");
        assert!(!svg.contains("polyline"), "marks only");
    }
}
