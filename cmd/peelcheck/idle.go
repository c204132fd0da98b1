package main

import (
	"fmt"
	"path/filepath"
	"slices"

	"peelcheck/cmd/internal/globs"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/cmd/internal/waiver"
	"peelcheck/preflight/report"
)

// written is a pattern and where it stands.
type written struct{ where, what, text string }

// patterns are those that were asked in one call, each with the folders that it counts from.
type patterns struct {
	order []written
	bases map[written][]string
	at    map[string][]string // of each folder, the texts
	seen  map[folderIn]bool
}

// folderIn is a folder with settings, reached from a folder that was named.
type folderIn struct {
	root string
	in   *setup.Folder
}

func newPatterns() *patterns {
	return &patterns{bases: map[written][]string{}, at: map[string][]string{}, seen: map[folderIn]bool{}}
}

func (p *patterns) add(w written, base string) {
	if slices.Contains(p.bases[w], base) {
		return
	}
	if p.bases[w] == nil {
		p.order = append(p.order, w)
	}
	p.bases[w] = append(p.bases[w], base)
	p.at[base] = append(p.at[base], w.text)
}

// folder adds what holds in a folder found below root: the lists that say what is judged.
func (p *patterns) folder(root string, in *setup.Folder, lists globs.Lists) {
	if p.seen[folderIn{root, in}] {
		return
	}
	p.seen[folderIn{root, in}] = true
	for _, l := range lists {
		include, exclude := written{l.From, "include", ""}, written{l.From, "exclude", ""}
		if l.From == "" {
			include.what, exclude.what = "--include", "--exclude"
		}
		for _, include.text = range l.Include {
			p.add(include, l.Base)
		}
		for _, exclude.text = range l.Exclude {
			p.add(exclude, l.Base)
		}
	}
}

// waivers adds those that hold today; of the others it is told that they have ended.
func (p *patterns) waivers(list waiver.List, today string) {
	holding, _ := list.Holding(today)
	for _, w := range holding {
		p.add(written{fmt.Sprintf("%s:%d:%d", w.File, w.Line, w.Column), "the waiver of " + w.Rule, w.Files}, w.Base)
	}
}

// tell tells of those that match nothing in any of their folders: a misspelt one looks like a pass.
func (p *patterns) tell(say *speaker) {
	idle := map[string]map[string]globs.Unmatched{}
	for base, texts := range p.at {
		idle[base] = map[string]globs.Unmatched{}
		for _, u := range globs.Idle(base, texts) {
			idle[base][u.Pattern] = u
		}
	}
	for _, w := range p.order {
		near, matches := "", false
		for _, base := range p.bases[w] {
			u, unmatched := idle[base][w.text]
			near, matches = setup.First(near, u.Near), matches || !unmatched
		}
		if !matches {
			say.problem(unmatched(w, near))
		}
	}
}

// unmatched says that a pattern matches nothing; near is what it would match if capital and small letters did not differ.
func unmatched(w written, near string) error {
	reason := fmt.Sprintf("%s: the pattern %q matches no file or folder", w.what, w.text)
	if near == "" {
		return problem.New(filepath.ToSlash(w.where), reason, "check its spelling, or take it out")
	}
	reason += ", as capital and small letters differ: there is " + report.Printable(near)
	return problem.New(filepath.ToSlash(w.where), reason, "write the pattern as the names are written")
}
