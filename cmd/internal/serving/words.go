package serving

import (
	"fmt"
	"strings"
	"time"

	"peelcheck/preflight"
)

// verdictWord is a verdict as it is shown.
func verdictWord(v preflight.Verdict) string { return strings.ToUpper(string(v)) }

// keepWords say how long an upload is kept.
func keepWords(d time.Duration) string {
	switch {
	case d >= 2*time.Hour:
		return fmt.Sprintf("%.0f hours", d.Hours())
	case d >= 2*time.Minute:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	}
	return fmt.Sprintf("%.0f seconds", d.Seconds())
}

// byteWords say how large a file is.
func byteWords(n int64) string {
	if n < 1e6 {
		return fmt.Sprintf("%d kB", (n+999)/1000)
	}
	return fmt.Sprintf("%.4g MB", float64(n/1e5)/10)
}
