package report

import "testing"

// TestNamedPages: names that have commas themselves, as those of pages, are parted by semicolons.
func TestNamedPages(t *testing.T) {
	plain, pages := []string{"a", "b", "c"}, []string{"a, page 1 of 2", "b", "c"}
	for _, tt := range []struct {
		names []string
		most  int
		want  string
	}{
		{plain, 3, "a, b, c"}, {plain, 2, "a, b and 1 more"}, {pages, 3, "a, page 1 of 2; b; c"}, {pages, 1, "a, page 1 of 2; and 2 more"},
	} {
		if got := NamedPages(tt.names, tt.most); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
