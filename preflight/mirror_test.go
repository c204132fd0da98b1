package preflight

import (
	"image"
	"strings"
	"testing"

	"peelcheck/raster/lettering"
)

func TestEvidence(t *testing.T) {
	tests := []struct {
		r          lettering.Reading
		reads      string
		confidence float64
		evidence   string
	}{
		{lettering.Reading{}, ReadsUnknown, 0, "no lettering was found in the picture"},
		{lettering.Reading{Letters: 1, Tell: 1, LogOdds: -4}, ReadsUnknown, 0, "too little lettering to tell: 1 shape like a letter, 1 of which read normally and none mirrored"},
		{lettering.Reading{Letters: 6, LogOdds: 0.1}, ReadsUnknown, 0, "too little lettering to tell: 6 shapes like letters, none of which differs clearly from its mirror image"},
		{lettering.Reading{Letters: 14, Tell: 12, TellMirrored: 12, LogOdds: 30}, ReadsMirrored, mostSure, "14 shapes like letters, 12 of which read mirrored and none normally"},
		{lettering.Reading{Letters: 14, Tell: 12, TellMirrored: 1, LogOdds: -4}, ReadsNormally, 0.982, "14 shapes like letters, 1 of which read mirrored and 11 normally"},
	}
	for _, tt := range tests {
		m := readMirror(tt.r)
		if m.Reads != tt.reads || m.Confidence != tt.confidence || m.Evidence != tt.evidence {
			t.Errorf("%+v: %+v", tt.r, m.Mirror)
		}
	}
}

// The text of a document goes before the shapes in its picture, unless it is little or does not agree with itself.
func TestTextOfTheDocument(t *testing.T) {
	where := image.Rect(10, 20, 30, 40)
	tests := []struct {
		text  *TextFacts
		reads string
		sure  float64
		where image.Rectangle
	}{
		{nil, ReadsUnknown, 0, image.Rectangle{}},
		{&TextFacts{Letters: 3, Mirrored: 3, Where: where}, ReadsUnknown, 0, image.Rectangle{}},
		{&TextFacts{Letters: 20, Mirrored: 10, Where: where}, ReadsUnknown, 0, image.Rectangle{}},
		{&TextFacts{Letters: 20, Mirrored: 20, Where: where}, ReadsMirrored, 1, where},
		{&TextFacts{Letters: 20}, ReadsNormally, 1, image.Rectangle{}},
	}
	for _, tt := range tests {
		s := testScene(t, "toner-white-for-black", fill(120, 60, black), 200, nil)
		s.Art.Text = tt.text
		if m := s.Mirror(); m.Reads != tt.reads || m.Confidence != tt.sure || s.LetteringBox() != tt.where || !m.PrintMirrored {
			t.Errorf("%+v: %+v at %v", tt.text, m, s.LetteringBox())
		}
		if m := s.Mirror(); tt.sure == 1 && !strings.Contains(m.Evidence, "the file's own text") {
			t.Errorf("%+v: %s", tt.text, m.Evidence)
		}
	}
}
