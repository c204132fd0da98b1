package preflight

import "testing"

// The worked example of most textbooks on the edit distance (from memory): kitten to sitting takes three changes.
func TestEditDistance(t *testing.T) {
	tests := []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"", "abc", 3}, {"abc", "", 3}, {"grün", "grun", 1}, {"same", "same", 0}, {"nvay", "navy", 1}, {"ca", "ac", 1},
	}
	for _, tt := range tests {
		if got := editDistance(tt.a, tt.b); got != tt.want {
			t.Errorf("editDistance(%q, %q) = %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"cotton", "polyester", "nylon-bag", "cap"}
	for word, want := range map[string]string{"coton": "cotton", "Polyster": "polyester", "nylonbag": "nylon-bag", "zzzzzz": "", "wool": ""} {
		if got := Nearest(word, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}
