package drivelog

import (
	"strings"

	"calsplice/tables"
)

// didYouMean ends an error line about a name that is not known with the
// nearest one that is; "" where none is near.
func didYouMean(name string, all []string) string {
	best, dist := "", 1+len(name)/3
	for _, a := range all {
		if d := editDistance(strings.ToLower(name), strings.ToLower(a), dist+1); d <= dist && (best == "" || d < dist || d == dist && a < best) {
			best, dist = a, d
		}
	}
	if best == "" {
		return ""
	}
	if isName(best) {
		return ": did you mean " + best + "?"
	}
	return ": did you mean " + tables.Quote(best) + "?"
}

// editDistance counts the insertions, deletions, replacements and swaps of
// neighbours that turn a into b, or is at least most where it would be more.
func editDistance(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) >= most || len(y)-len(x) >= most || len(x) > 200 || len(y) > 200 {
		return most
	}
	rows := [3][]int{make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)}
	for j := range rows[1] {
		rows[1][j] = j
	}
	for i := 1; i <= len(x); i++ {
		prev2, prev, cur := rows[(i+2)%3], rows[i%3], rows[(i+1)%3]
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
	}
	return rows[(len(x)+1)%3][len(y)]
}
