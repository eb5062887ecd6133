package study

import (
	"fmt"
	"html"
	"io"
	"strings"

	"cazward/procedure/reading"
)

var noiseWords = map[Noise]string{Still: "without noise", Windy: "with gauge and wind"}

func percent(share float64) string { return reading.Format(100*share, 1) }

// Markdown writes the report as tables. what says how it was made, a sentence.
func Markdown(w io.Writer, r Report, what string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# How often the worst case is found\n\n%s\n\n", what)
	fmt.Fprintf(&b, "%d drawn houses, seed %d, each solved in every configuration of its doors, fans\nand air handlers. True worst case, Pa below rest: median %s, a tenth of them below\n%s, one in a hundred below %s. In %s %% it lies beyond the strictest graded-2005\nlimit of the house, which is the yardstick of verdicts under every scheme.\n",
		r.Houses, r.Seed, reading.Format(r.Worst.P50, 1), reading.Format(r.Worst.P90, 1), reading.Format(r.Worst.P99, 1), percent(r.Failed))
	for _, n := range []Noise{Still, Windy} {
		fmt.Fprintf(&b, "\n## %s\n\n", strings.ToUpper(noiseWords[n][:1])+noiseWords[n][1:])
		b.WriteString("| scheme | order | held within 0.5 Pa, % | read within 0.5 Pa, % | short: 90 % | 95 % | 99 % | most, Pa | readings: median | most | suggested: median | most | verdict flips, % | passed beyond limit, % |\n")
		b.WriteString("| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n")
		for _, x := range r.Rows {
			if x.Noise != n {
				continue
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s | %s | %d | %d | %d | %d | %s | %s |\n", x.Scheme, x.Order, percent(x.Held), percent(x.Found),
				reading.Format(x.Short.P90, 2), reading.Format(x.Short.P95, 2), reading.Format(x.Short.P99, 2), reading.Format(x.Short.Max, 1),
				x.Readings.Median, x.Readings.Most, x.Extra.Median, x.Extra.Most, percent(x.Flips), percent(x.Beyond))
		}
	}
	b.WriteString(`
"Held" is the configuration in which burners are lit; "read" is the lowest that
was read on the way, which is what the zone is judged by. "Short" is by how much
what was held is milder than the true worst case. A verdict flips where the walk
passes the zone and the true worst case, by the same comparison, would not pass.
`)
	_, err := io.WriteString(w, b.String())
	return err
}

// Picture writes the report as an SVG: for each way the houses whose worst case
// was missed, by how much.
func Picture(w io.Writer, r Report) error {
	const left, width, row, top, said = 250, 420, 18, 64, 150
	most := 1.0
	for _, x := range r.Rows {
		most = max(most, 100*(1-x.Held))
	}
	scale := width / most
	shades := []string{"#dddddd", "#aaaaaa", "#666666", "#000000"}
	names := []string{"0.5 to 1 Pa", "1 to 2 Pa", "2 to 4 Pa", "more than 4 Pa"}
	height := top + row*(len(r.Rows)+4) + 20
	var b strings.Builder
	title := fmt.Sprintf("Houses, %%, of which what was held is more than 0.5 Pa short of the worst case; %d houses", r.Houses)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 %d %d" width="%d" height="%d" font-family="system-ui,sans-serif" font-size="12">`+"\n", left+width+said, height, left+width+said, height)
	fmt.Fprintf(&b, "<title>%s</title>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#ffffff\"/>\n", html.EscapeString(title))
	fmt.Fprintf(&b, "<text x=\"8\" y=\"18\">%s</text>\n", html.EscapeString(title))
	for i, n := range names {
		fmt.Fprintf(&b, "<rect x=\"%d\" y=\"28\" width=\"14\" height=\"12\" stroke=\"#000000\" fill=\"%s\"/><text x=\"%d\" y=\"39\">%s</text>\n", left+i*125, shades[i], left+i*125+19, n)
	}
	y := top
	for _, n := range []Noise{Still, Windy} {
		fmt.Fprintf(&b, "<text x=\"8\" y=\"%d\" font-weight=\"bold\">%s</text>\n", y, noiseWords[n])
		y += row
		for _, x := range r.Rows {
			if x.Noise != n {
				continue
			}
			fmt.Fprintf(&b, "<text x=\"%d\" y=\"%d\" text-anchor=\"end\">%s, %s</text>\n", left-8, y, html.EscapeString(x.Scheme), x.Order)
			from := float64(left)
			for c, houses := range x.Classes[1:] {
				wide := 100 * float64(houses) / float64(x.Houses) * scale
				if wide > 0 {
					fmt.Fprintf(&b, "<rect x=\"%.1f\" y=\"%d\" width=\"%.1f\" height=\"12\" stroke=\"#000000\" stroke-width=\"0.5\" fill=\"%s\"/>\n", from, y-11, wide, shades[c])
				}
				from += wide
			}
			fmt.Fprintf(&b, "<text x=\"%.1f\" y=\"%d\">%s</text>\n", from+6, y, percent(1-x.Held))
			y += row
		}
		y += row / 2
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
