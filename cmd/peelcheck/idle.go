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

// written is a pattern and where it stands. rule is that of a waiver.
type written struct{ where, what, rule, text string }

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
		include, exclude := written{where: l.From, what: "include"}, written{where: l.From, what: "exclude"}
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
		p.add(written{w.Place(), "the waiver of " + w.Rule, w.Rule, w.Files}, w.Base)
	}
}

// idle lists those that match nothing in any of their folders, each with what it would match if capital and small letters did not differ.
func (p *patterns) idle() (list []written, near []string) {
	idle := map[string]map[string]globs.Unmatched{}
	for base, texts := range p.at {
		idle[base] = map[string]globs.Unmatched{}
		for _, u := range globs.Idle(base, texts) {
			idle[base][u.Pattern] = u
		}
	}
	for _, w := range p.order {
		like, matches := "", false
		for _, base := range p.bases[w] {
			u, unmatched := idle[base][w.text]
			like, matches = setup.First(like, u.Near), matches || !unmatched
		}
		if !matches {
			list, near = append(list, w), append(near, like)
		}
	}
	return list, near
}

// tell tells of those that match nothing: a misspelt one looks like a pass. Several waivers share a line.
func (p *patterns) tell(say *speaker) {
	var waivers []string
	var last error
	list, near := p.idle()
	for i, w := range list {
		if w.rule == "" {
			say.problem(unmatched(w, near[i]))
			continue
		}
		last = unmatched(w, near[i])
		waivers = append(waivers, fmt.Sprintf("%s (%s in %s)", w.where, w.rule, w.text))
	}
	if len(waivers) > 1 {
		reason := fmt.Sprintf("the patterns of %d waivers match no file or folder: %s", len(waivers), report.Named(waivers, mostWaivers))
		last = problem.New("", reason, "check their spelling, capital and small letters too, or take them out")
	}
	if last != nil {
		say.problem(last)
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
