// Command generate makes all.go, the list of rules, from the folders of preflight/rules, and then docs/rules.md from the rules
// themselves. It is run by go generate in preflight/rules.
package main

import (
	"fmt"
	"os"
	"os/exec"

	"peelcheck/preflight/rules/internal/generate/listing"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "generate: error:", err)
		os.Exit(1)
	}
}

// run makes the page with a second program, which can only be built once the list is right.
func run() error {
	list, err := listing.AllGo(os.DirFS("."))
	if err != nil {
		return err
	}
	if err := os.WriteFile(listing.ListFile, list, 0o644); err != nil {
		return err
	}
	page := exec.Command("go", "run", "./internal/generate/page", listing.PageFile)
	page.Stderr = os.Stderr
	return page.Run()
}
