// Command page writes docs/rules.md, or the file it is given, from the rules.
package main

import (
	"fmt"
	"os"

	"peelcheck/preflight"
	"peelcheck/preflight/rules"
	"peelcheck/preflight/rules/internal/generate/listing"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "page: error: say which file to write")
		os.Exit(2)
	}
	if err := os.WriteFile(os.Args[1], listing.Page(rules.All(), preflight.Processes()), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, "page: error:", err)
		os.Exit(1)
	}
}
