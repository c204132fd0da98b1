package preflight

import (
	"fmt"
	"strings"
)

// maxWord bounds the words that are compared: nothing longer is a slip of a name.
const maxWord = 64

// Nearest returns the entry of known most like word, or "" if none is near enough to be a slip of the keys. Likeness is
// the edit distance with swaps of Damerau, Commun. ACM 7(3), 1964 (from memory); about a third of the word may differ.
func Nearest(word string, known []string) string {
	if len(word) > maxWord {
		return ""
	}
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

// editDistance counts the letters to put in, take out, change, or swap with their neighbour to make a into b.
func editDistance(a, b string) int {
	ra, rb := []rune(a), []rune(b)
	rows := make([][]int, len(ra)+1)
	for i := range rows {
		rows[i] = make([]int, len(rb)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(ra); i++ {
		for j := 1; j <= len(rb); j++ {
			change := rows[i-1][j-1]
			if ra[i-1] != rb[j-1] {
				change++
			}
			best := min(change, rows[i-1][j]+1, rows[i][j-1]+1)
			if i > 1 && j > 1 && ra[i-1] == rb[j-2] && ra[i-2] == rb[j-1] {
				best = min(best, rows[i-2][j-2]+1)
			}
			rows[i][j] = best
		}
	}
	return rows[len(ra)][len(rb)]
}
