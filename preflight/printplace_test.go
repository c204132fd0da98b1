package preflight

import (
	"strings"
	"testing"
)

// The sizes built in are common practice, no source: what can be held to is that they are whole, and smaller than any garment.
func TestBuiltInPlaces(t *testing.T) {
	list := PrintPlaces(nil)
	names := map[string]bool{}
	for _, p := range list {
		if names[p.Name] || p.Title == "" || p.Where == "" || p.From != "built in" || !strings.Contains(p.Origin(), "common practice, no source") {
			t.Errorf("%+v", p)
		}
		if s := p.Size(); s.W < 50 || s.H < 50 || s.W > 350 || s.H > 450 {
			t.Errorf("%s: %v", p.Name, s)
		}
		names[p.Name] = true
	}
	for _, name := range []string{"chest", "full-front", "sleeve", "cap-front", "tote"} {
		if !names[name] {
			t.Errorf("no place %s", name)
		}
	}
}

func TestPlaceByName(t *testing.T) {
	own := []PrintPlace{{Name: "chest", Width: 80, Height: 90, From: "the file peelcheck.yaml"}, {Name: "pennant", Width: 120, Height: 300}}
	p, err := PlaceByName("Chest", own)
	if err != nil || p.Width != 80 || p.Origin() != "the file peelcheck.yaml" {
		t.Errorf("the shop's own does not come first: %+v, %v", p, err)
	}
	if p, err := PlaceByName("tote", own); err != nil || p.From != "built in" {
		t.Errorf("%+v, %v", p, err)
	}
	for _, name := range []string{"", NoPlace} {
		if p, err := PlaceByName(name, own); p != nil || err != nil {
			t.Errorf("%q: %+v, %v", name, p, err)
		}
	}
	if _, err := PlaceByName("penant", own); err == nil || !strings.Contains(err.Error(), `did you mean "pennant"?`) {
		t.Errorf("%v", err)
	}
	if n := len(PrintPlaces(own)); n != len(PrintPlaces(nil))+1 {
		t.Errorf("%d places with two of the shop's, one of which stands in for one built in", n)
	}
}

func TestPlaceFaults(t *testing.T) {
	for data, want := range map[string]string{
		"places:\n  - {name: flag, width: 90}\n":                                     `p.yaml:2:6: the place needs the key "height"`,
		"places:\n  - {name: flag, width: 90, hight: 80}\n":                          `p.yaml:2:29: unknown key "hight"; did you mean "height"?`,
		"places:\n  - {name: flag, width: 0, height: 80}\n":                          `p.yaml:2:25: width`,
		"places:\n  - {name: flag, width: 9m, height: 80}\n":                         `p.yaml:2:25: width: "9m" is not a length`,
		"places:\n  - {name: A flag, width: 9, height: 80}\n":                        `p.yaml:2:12: "A flag" must be small letters`,
		"places:\n  - {name: none, width: 9, height: 80}\n":                          `p.yaml:2:12: no place can be called "none"`,
		"places: [{name: a, width: 9, height: 8}, {name: a, width: 9, height: 8}]\n": `p.yaml:1:49: two places are called "a"`,
		"garment: navy\nplace: chset\n":                                              `p.yaml:2:8: no place "chset": the places are chest`,
		"places: chest\n":                                                            `p.yaml:1:9: expected a list`,
	} {
		if _, err := ParseProcesses("p.yaml", []byte(data)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v, want %s", data, err, want)
		}
	}
	if shop, err := ParseProcesses("p.yaml", []byte("place: pole\nplaces: [{name: pole, width: 9cm, height: 1in}]\n")); err != nil || shop.Places[0].Size() != (SizeMM{90, 25.4}) {
		t.Errorf("%+v, %v", shop, err)
	}
}

// TestPlaceIsReported: what was named stands in the report, what was not does not.
func TestPlaceIsReported(t *testing.T) {
	for _, name := range []string{"", "sleeve"} {
		s := fitScene(t, SizeMM{60, 60}, SizeMM{40, 40}, 50.8, false)
		var err error
		if s.Job.Place, err = PlaceByName(name, nil); err != nil {
			t.Fatal(err)
		}
		got := s.jobInfo().Place
		if (got != nil) != (name != "") || got != nil && (got.Name != name || got.WidthMM != 90 || got.HeightMM != 90 || got.From != "built in" || got.Where == "") {
			t.Errorf("%q: %+v", name, got)
		}
	}
}

// TestShrunkTo: 150 x 80 mm on a page of 160 x 90 goes on a chest at 100/150 = 0.666666, as a picture 106.6 mm wide with 1.5 times the pixels.
func TestShrunkTo(t *testing.T) {
	s := fitScene(t, SizeMM{160, 90}, SizeMM{150, 80}, 127, false)
	got, words := s.ShrunkTo(SizeMM{100, 100})
	if got.TurnDeg != 0 || got.Scale != 0.666666 || got.DesignMM != (SizeMM{100, 53.3}) || got.PictureMM != (SizeMM{106.6, 59.9}) {
		t.Errorf("%+v", got)
	}
	if want := " There the picture has 190 pixels an inch, which is enough: 150 are needed, and now it has 127."; words != want {
		t.Errorf("%q, want %q", words, want)
	}
}
