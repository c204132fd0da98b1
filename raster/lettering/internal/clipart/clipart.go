// Package clipart lists the drawings of the npm package openmoji (CC BY-SA 4.0) that hold no lettering, and draws them.
package clipart

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
)

// lettered are the subgroups whose drawings are letters, digits or signs with some; lettering are the words of a drawing's name and tags
// that hint at some, rather too many than too few.
var (
	lettered = []string{
		"keycap", "alphanum", "zodiac", "punctuation", "regional-indicator", "subdivision-flag", "country-flag", "currency", "math", "av-symbol",
		"time", "transport-sign", "person-symbol", "brand",
	}
	lettering = regexp.MustCompile(`(?i)letter|sign|button|keycap|text|word|alphabet|number|digit|numeral|clock|watch|calendar|date|abc|book|` +
		`newspaper|logo|brand|label|card|ticket|badge|plate|ATM|stop|taxi|police|ambulance|hospital|fire engine|1st|2nd|3rd|hundred|symbol|` +
		`license|currency|dollar|euro|yen|pound|money|receipt|score|keyboard|typewriter|on!|soon|back|end|top|sos|zzz|sleep|registered|` +
		`copyright|trade mark|flag|id |wc|cinema|dice|mahjong|joker|note|memo|certificate|document|file|scroll|page|chart|poster|thermometer|` +
		`ruler|compass|map|jersey|speech|comment|thought|emergency|bank|convenience|24|post|mail|e-mail|vs|jar|bottle|label|web|computer|` +
		`phone|screen|terminal|html|code`)
)

// List returns the files of the drawings without lettering in an unpacked package: about a quarter for tuning, by their names' hashes,
// and those held out. Drawings that differ in skin alone are left out.
func List(dir string) (tuning, heldOut []string, err error) {
	f, err := os.Open(filepath.Join(dir, "data", "openmoji.csv"))
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, nil, err
	}
	column := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	for _, row := range rows[1:] {
		about := column(row, "annotation") + " " + column(row, "tags") + " " + column(row, "openmoji_tags")
		if slices.Contains(lettered, column(row, "subgroups")) || lettering.MatchString(about) || column(row, "skintone") != "" {
			continue
		}
		code := column(row, "hexcode")
		file := filepath.Join(dir, "color", "svg", code+".svg")
		if _, err := os.Stat(file); err != nil {
			continue
		}
		if sha256.Sum256([]byte(code))[0] < 64 {
			tuning = append(tuning, file)
		} else {
			heldOut = append(heldOut, file)
		}
	}
	return tuning, heldOut, nil
}

// Draw draws a drawing so many pixels wide, with rsvg-convert.
func Draw(svg string, widthPx int) (*image.NRGBA, error) {
	data, err := exec.Command("rsvg-convert", "-w", strconv.Itoa(widthPx), svg).Output()
	if err != nil {
		return nil, fmt.Errorf("%s: rsvg-convert: %w", svg, err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", svg, err)
	}
	out := image.NewNRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out, nil
}
