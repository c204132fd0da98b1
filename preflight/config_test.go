package preflight

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

const wholeConfig = `# the Quillmoor Lantern Walk's print table
process: lantern-film
white_drawn_as: black
garment: "#1e1e1e"
fabric: felt
sheet: banner
place: pennant
background: drop
fail_on: warning
white_names: [White, Weiss]
sheets:
  - {name: banner, width: 33cm, height: 48.3cm, margin: 5mm}
  - name: patch
    width: 100
    height: 4in
places:
  - {name: pennant, width: 12cm, height: 4in, where: at the pole}
  - {name: chest, width: 80, height: 80}
limits:
  line: 1pt
  ppi: 200
processes:
  - based_on: film-underbase
    id: lantern-film
    choke_mm: 0.2mm
    screen: {ruling_lpi: 100, smallest_dot_mm: 0.05}
    trim_clearance_mm: 8
    black_generation: [[0, 0], [0.5, 0.1], [1, 1]]
    limits:
      dot: 0.8
    sheets: [banner, a4]
    fabrics:
      - name: felt
        steps:
          - do: Press the flag.
            temperature_c: 120
            seconds: 20
  - id: lantern-film-fine
    based_on: lantern-film
    limits: {line: 0.25mm, tint: 0.1}
`

func TestParseProcesses(t *testing.T) {
	c, err := ParseProcesses("peelcheck.yaml", []byte(wholeConfig))
	if err != nil {
		t.Fatal(err)
	}
	procs := c.Processes
	c.Processes = nil
	want := ShopConfig{
		File: "peelcheck.yaml", Process: "lantern-film", WhiteDrawnAs: "black", Garment: "#1e1e1e", Fabric: "felt", Sheet: "banner",
		Background: "drop", FailOn: "warning", WhiteNames: []string{"White", "Weiss"},
		Sheets: []Sheet{{"banner", 330, 483, 5}, {"patch", 100, 101.6, MarginOfProcess}},
		Place:  "pennant",
		Places: []PrintPlace{
			{Name: "pennant", Width: 120, Height: 101.6, Where: "at the pole", From: "the file peelcheck.yaml"},
			{Name: "chest", Width: 80, Height: 80, From: "the file peelcheck.yaml"}},
		Limits:     map[string]float64{"line": float64(Point), "ppi": 200},
		limitFiles: map[string]string{"line": "peelcheck.yaml", "ppi": "peelcheck.yaml"},
	}
	if !reflect.DeepEqual(c, want) {
		t.Errorf("got  %+v\nwant %+v", c, want)
	}
	if len(procs) != 2 {
		t.Fatalf("%d processes, want 2", len(procs))
	}
	checkLanternFilm(t, procs[0])
	fine := procs[1]
	for name, want := range map[string]Limit{
		"line": {0.25, "mm", "the file peelcheck.yaml"}, "tint": {0.1, "share", "the file peelcheck.yaml"},
		"dot": {0.8, "mm", "the file peelcheck.yaml"}, "hole": {0.5, "mm", "built in"},
	} {
		if fine.Limits[name] != want {
			t.Errorf("lantern-film-fine: %s = %+v, want %+v", name, fine.Limits[name], want)
		}
	}
}

func checkLanternFilm(t *testing.T, p *Process) {
	t.Helper()
	base, err := ProcessByID("film-underbase")
	if err != nil {
		t.Fatal(err)
	}
	if p.ID != "lantern-film" || p.Title != base.Title || p.ChokeMM != 0.2 || p.Mirror != "file" || p.BlackGeneration.At(0.5) != 0.1 {
		t.Errorf("%+v", p)
	}
	if len(p.Fabrics) != len(base.Fabrics)+1 || p.Fabrics[len(base.Fabrics)].Name != "felt" {
		t.Errorf("fabrics %+v, want the base's and felt", p.Fabrics)
	}
	const file = "the file peelcheck.yaml"
	for name, want := range map[string]Limit{"line": {0.3, "mm", "built in"}, "dot": {0.8, "mm", file}, "clearance": {8, "mm", file}} {
		if p.Limits[name] != want {
			t.Errorf("%s = %+v, want %+v", name, p.Limits[name], want)
		}
	}
	// A screen set here replaces the base's own tint limit.
	if tint := p.Limits["tint"]; tint.Value != TintLimit(100, 0.05) || !strings.HasPrefix(tint.From, file) {
		t.Errorf("tint = %+v, want that of the screen", tint)
	}
}

func TestParseProcessesEmpty(t *testing.T) {
	for _, data := range []string{"", "\n", "# nothing\n", "---\n", "\xef\xbb\xbf", "null\n"} {
		c, err := ParseProcesses("peelcheck.yaml", []byte(data))
		if err != nil || !reflect.DeepEqual(c, ShopConfig{File: "peelcheck.yaml"}) {
			t.Errorf("%q: %+v, %v", data, c, err)
		}
	}
	for _, data := range []string{"\xef\xbb\xbfsheet: a3\n", "sheet: a3\r\nfail_on: never\r\n", "---\nsheet: a3\n"} {
		if c, err := ParseProcesses("peelcheck.yaml", []byte(data)); err != nil || c.Sheet != "a3" {
			t.Errorf("%q: %+v, %v", data, c, err)
		}
	}
}

func TestParseProcessesFaults(t *testing.T) {
	own := "processes:\n  - id: mine\n    based_on: toner-underbase\n    "
	tests := []struct {
		yaml string
		want string // after the file's name
	}{
		{"sheet: a4\nfabrik: cotton\n", `:2:1: unknown key "fabrik"; did you mean "fabric"?`},
		{own + "chok_mm: 0.1\n", `:4:5: unknown key "chok_mm"; did you mean "choke_mm"?`},
		{own + "choke_mm: thin\n", `:4:15: choke_mm: "thin" is not a length`},
		{own + "choke_mm: 12\n", `:4:15: choke_mm is "12": it must be at least 0 and less than 10 mm`},
		{own + "mirror: drivers\n", `:4:13: "drivers" is none of driver, file; did you mean "driver"?`},
		{own + "limits: {line: 0}\n", `:4:20: line is 0 mm: it must be more than 0`},
		{own + "limits: {tint: 20}\n", `:4:20: tint is 20: it must be a share`},
		{own + "limits: {tint: .nan}\n", `:4:20: `},
		{own + "limits: {ppi: many}\n", `:4:19: ppi: "many" is not a number`},
		{own + "limits:\n      lime: 1\n", `:5:7: unknown key "lime"; did you mean "line"?`},
		{own + "black_generation: [[0, 0], [0, 1]]\n", `:4:33: x must rise`},
		{own + "black_generation: [[0, 0], [1, 2]]\n", `:4:36: y is 2: it must be from 0 to 1`},
		{own + "black_generation: [[0, 0]]\n", `:4:23: a curve needs at least two points`},
		{own + "black_generation: [0, 1]\n", `:4:24: expected a list`},
		{own + "black_generation: [[0, 0, 0], [1, 1]]\n", `:4:24: a point of a curve is two numbers`},
		{own + "planes: [white, pink]\n", `:4:21: "pink" is no plane`},
		{own + "planes: [white, white]\n", `:4:21: "white" is listed twice`},
		{own + "planes: [cyan]\n", `:4:13: process "mine": planes have no white`},
		{own + "planes: [white]\n", `:4:13: process "mine": planes have white alone`},
		{own + "white_source: black-station\n", `process "mine": planes have black, but white sits`},
		{own + "white_source: white-only\n", `process "mine": planes have more than white`},
		{own + "screen: {smallest_dot_mm: 0.5}\n", `:4:14: process "mine": smallest_dot_mm is 0.5, wider than the room that each dot has (0.191 mm, with 133 dots to the inch)`},
		{own + "screen: {ruling_lpi: 0}\n", `:4:14: process "mine": ruling_lpi and smallest_dot_mm belong together`},
		{own + "screen: {ruling_lpi: 0, smallest_dot_mm: 0}\n", `:4:14: process "mine": without ruling_lpi (how many dots to the inch tints are printed with) it needs a tint`},
		{own + "sheets: [a9]\n", `process "mine": no sheet "a9"`},
		{own + "sheets: []\n", `:4:13: process "mine": sheets is an empty list`},
		{own + "fabrics: [{name: felt, steps: [{do: Press., temperature_c: 20}]}]\n", `temperature_c is 20: it must be from 40 to 250`},
		{own + "fabrics: [{name: felt, steps: [{do: Press., seconds: 0}]}]\n", `seconds is 0: it must be from 1 to 3600`},
		{own + "fabrics: [{name: felt, steps: [{note: Press.}]}]\n", `the step needs the key "do"`},
		{own + "fabrics: [{name: felt, steps: []}]\n", `a fabric needs at least one step`},
		{own + "fabrics: [{name: felt}]\n", `the fabric needs the key "steps"`},
		{own + "fabrics: [{name: Felt Flag, steps: []}]\n", `"Felt Flag" must be small letters`},
		{"processes:\n  - id: mine\n    based_on: film\n", `:3:15: based_on: no process "film"`},
		{"processes:\n  - based_on: film-underbase\n", `:2:5: the process needs the key "id"`},
		{"processes:\n  - id: mine\n", `:2:5: a process without based_on needs the key "title"`},
		{"processes:\n  - id: film-underbase\n    based_on: film-underbase\n", `:2:9: there is a process "film-underbase" already`},
		{"processes: {id: mine}\n", `expected a list`},
		{"processes: [mine]\n", `:1:13: expected keys with values`},
		{"process: toner\n", `:1:10: no process "toner"`},
		{"fabric: coton\n", `:1:9: process toner-white-for-black has no fabric "coton"`},
		{"sheet: a9\n", `:1:8: no sheet "a9"`},
		{"garment: nvay\n", `:1:10: garment: "nvay" is not a colour`},
		{"garment: #1e1e1e\n", `:1:1: garment has no value; if it starts with # put it in quotes`},
		{"garment: true\n", `:1:10: expected one plain value`},
		{"garment: [black]\n", `expected one plain value`},
		{"garment: \"\"\n", `the value is empty`},
		{"garment: &a black\n", `anchors, aliases and tags are not read`},
		{"background: remove\n", `:1:13: "remove" is none of keep, drop, auto`},
		{"fail_on: errors\n", `did you mean "error"?`},
		{"sheets: [{name: b, width: 10, height: 0}]\n", `height is "0": it must be more than 0`},
		{"sheets: [{name: b, width: 10}]\n", `the sheet needs the key "height"`},
		{"sheets: [{name: b, width: 10, height: 10, margin: 5}]\n", `a margin of 5 mm leaves nothing of sheet "b"`},
		{"sheets: [{name: b, width: 9, height: 9}, {name: b, width: 9, height: 9}]\n", `two sheets are called "b"`},
		{"limits: {dot: -1}\n", `:1:15: dot: "-1" is not a length`},
		{"sheet: a4\nsheet: a3\n", `:2:1: `},
		{"- a\n", `:1:1: expected keys with values`},
		{"sheet: [a4\n", `not YAML`},
		{"sheet: a4\n---\nsheet: a3\n", `the file has a second document`},
		{"sheet: a4\n\tfabric: cotton\n", `:2:1: a tab stands here, and lines are moved in with spaces only: put two spaces in its place`},
		{"limits: {dot: '0,300 mm'}\n", `:1:15: dot: "0,300 mm" is not a length: write decimals with a point, as 0.300`},
		{"limits: {tint: '0,1'}\n", `:1:16: tint: "0,1" is not a number: write decimals with a point, as 0.1`},
		{strings.Repeat("#", maxConfigBytes+1), `:1:1: the file has 262145 bytes`},
		{"exclude: drafts\n", `:1:10: expected a list`},
		{"exclude: [drafts, '[a']\n", `:1:19: pattern "[a" cannot be read`},
		{"exclude: [./drafts]\n", `:1:11: pattern "./drafts" matches nothing`},
		{"include: ['!a']\n", `:1:11: pattern "!a": an exclamation mark takes files back from exclude`},
		{"waivers: [{rule: hairline, files: a.png, until: 2026-12-31}]\n", `:1:12: the waiver needs the key "reason"`},
		{"waivers: [{rule: hairline, reason: r, until: 2026-12-31}]\n", `:1:12: the waiver needs the key "files"`},
		{"waivers: [{rule: hairline, files: a.png, reason: r}]\n", `:1:12: the waiver needs the key "until"`},
		{"waivers: [{rule: hairline, files: a.png, reason: r, until: 2026-02-29}]\n", `:1:60: until: "2026-02-29" is not a day`},
		{"waivers: [{rule: hairline, files: a.png, reason: r, until: next year}]\n", `:1:60: until: "next year" is not a day`},
	}
	for _, tt := range tests {
		t.Run(tt.want, func(t *testing.T) {
			_, err := ParseProcesses("peelcheck.yaml", []byte(tt.yaml))
			var at *ConfigError
			if !errors.As(err, &at) {
				t.Fatalf("%v, want a fault with its place", err)
			}
			if !strings.HasPrefix(err.Error(), "peelcheck.yaml:") || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got  %v\nwant one line with %s", err, tt.want)
			}
		})
	}
}

// TestWrittenProcessIsRead writes every built-in process as YAML and reads it back as a shop's own.
func TestWrittenProcessIsRead(t *testing.T) {
	for _, want := range Processes() {
		want.ID = "copy"
		out, err := yaml.Marshal(map[string]any{"processes": []*Process{want}})
		if err != nil {
			t.Fatal(err)
		}
		c, err := ParseProcesses("written.yaml", out)
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		got := c.Processes[0]
		for _, name := range LimitNames {
			if got.Limits[name].Value != want.Limits[name].Value || !strings.HasPrefix(got.Limits[name].From, "the file written.yaml") {
				t.Errorf("%s = %+v, want %+v from the file", name, got.Limits[name], want.Limits[name])
			}
		}
		got.Limits, want.Limits = nil, nil
		if !reflect.DeepEqual(got, want) {
			t.Errorf("got  %+v\nwant %+v", got, want)
		}
	}
}

// FuzzParseProcesses: whatever the bytes, either a configuration whose names all resolve, or one fault in one line with its place.
func FuzzParseProcesses(f *testing.F) {
	seeds := []string{wholeConfig, "sheet: [a4\n", "a: &a [*a]\n", "processes:\n  - <<: {id: x}\n", "? [a]\n: b\n", "sheet: !!str a4\n", "sheet: |\n  a4\n", "[[[[[", "sheet: 'a\n\n b'\n"}
	if len(seeds) == 0 {
		f.Fatal("no seeds")
	}
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ParseProcesses("peelcheck.yaml", data)
		if err != nil {
			var at *ConfigError
			if !errors.As(err, &at) || at.Line < 1 || at.Column < 1 || strings.Contains(err.Error(), "\n") {
				t.Fatalf("%q: %q is not one fault in one line", data, err)
			}
			return
		}
		p, err := c.DefaultProcess()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.ResolveLimits(c.Limits, c.File, nil); err != nil {
			t.Fatal(err)
		}
		for _, own := range c.Processes {
			if _, err := SheetByName(own.DefaultSheet(), own, c.Sheets); err != nil {
				t.Fatal(err)
			}
			if _, err := own.FabricByName(own.DefaultFabric()); err != nil {
				t.Fatal(err)
			}
		}
	})
}
