package preflight

import (
	"fmt"
	"strings"
)

// Nearest returns the entry of known most like word, or "" if none is near enough to be a slip of the keys. Likeness is
// the edit distance of Wagner & Fischer, J. ACM 21(1), 1974; at most a third of the word may differ.
func Nearest(word string, known []string) string {
	best, bestDist := "", len(word)/3+2
	for _, k := range known {
		if d := editDistance(strings.ToLower(word), strings.ToLower(k)); d < bestDist {
			best, bestDist = k, d
		}
	}
	return best
}

// didYouMean returns the tail of an error message that offers the nearest known word, or "".
func didYouMean(word string, known []string) string {
	if near := Nearest(word, known); near != "" {
		return fmt.Sprintf("; did you mean %q?", near)
	}
	return ""
}

// editDistance counts the single letters to put in, take out or change to make a into b.
func editDistance(a, b string) int {
	ra, rb := []rune(a), []rune(b)
	row := make([]int, len(rb)+1)
	for j := range row {
		row[j] = j
	}
	for i := range ra {
		diagonal := row[0]
		row[0] = i + 1
		for j := range rb {
			change := diagonal
			if ra[i] != rb[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(rb)]
}
