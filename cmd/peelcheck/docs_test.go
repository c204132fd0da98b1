package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"peelcheck/preflight"

	"github.com/goccy/go-yaml"
)

// TestWorkflowsAreYAML reads the ready-made workflows; the keys are those that the CI systems' own documents ask for (from memory).
func TestWorkflowsAreYAML(t *testing.T) {
	for name, keys := range map[string][]string{"github-actions.yaml": {"on", "jobs"}, "gitlab-ci.yaml": {"stages", "judge", "verdict"}} {
		data, err := os.ReadFile(filepath.Join("../../docs/ci", name))
		if err != nil {
			t.Fatal(err)
		}
		var doc map[string]any
		if err := yaml.UnmarshalWithOptions(data, &doc, yaml.Strict()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, key := range keys {
			if doc[key] == nil {
				t.Errorf("%s has no key %q", name, key)
			}
		}
	}
}

var commandLine = regexp.MustCompile(`(?m)^(?:    | *- | +)peelcheck ([^>\n]*)`)

// TestCommandsOfTheDocs: every command line on the page about libraries and in the workflows is one that the program takes.
func TestCommandsOfTheDocs(t *testing.T) {
	files := []string{"library.md", "ci/github-actions.yaml", "ci/gitlab-ci.yaml"}
	seen := 0
	for _, name := range files {
		data, err := os.ReadFile(filepath.Join("../../docs", name))
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range commandLine.FindAllStringSubmatch(string(data), -1) {
			seen++
			text := regexp.MustCompile(`\$\(\([^)]*\)\)|\$\{\{[^}]*\}\}|\$CI_NODE_INDEX`).ReplaceAllString(line[1], "2")
			args := strings.Fields(strings.ReplaceAll(strings.ReplaceAll(text, "$CI_NODE_TOTAL", "4"), "'", ""))
			cmd, rest, err := newRoot(&speaker{}).Find(args)
			if err != nil {
				t.Errorf("%s: %s: %v", name, line[0], err)
				continue
			}
			if err := cmd.ParseFlags(rest); err != nil {
				t.Errorf("%s: %s: %v", name, line[0], err)
			}
		}
	}
	if seen < 10 {
		t.Errorf("only %d commands were found", seen)
	}
}

// Whoever reads the help, or the file that init writes, sees every sheet that there is.
func TestHelpListsEverySheet(t *testing.T) {
	texts := map[string]string{"init.yaml": settingsText}
	for _, c := range newRoot(&speaker{}).Commands() {
		if flag := c.Flags().Lookup("sheet"); flag != nil {
			texts[c.Name()] = flag.Usage
		}
	}
	if len(texts) < 5 {
		t.Errorf("only %d commands have --sheet", len(texts)-1)
	}
	for where, text := range texts {
		for _, name := range preflight.SheetNames() {
			if !regexp.MustCompile(`\b` + name + `\b`).MatchString(text) {
				t.Errorf("%s: no %s in %q", where, name, text)
			}
		}
	}
}
