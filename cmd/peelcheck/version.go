package main

import (
	"runtime/debug"

	"peelcheck/preflight"
)

// commitDigits of a commit tell it from all others of a project.
const commitDigits = 12

// buildSettings are what the Go tool noted when it built the program: vcs.revision, vcs.modified and vcs.time, if it was built in a
// working copy.
func buildSettings() map[string]string {
	m := map[string]string{}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			m[s.Key] = s.Value
		}
	}
	return m
}

// versionWords is the version with the commit, where that is known, and whether files had been changed since.
func versionWords(build map[string]string) string {
	commit := build["vcs.revision"]
	if commit == "" {
		return preflight.Version
	}
	commit = commit[:min(len(commit), commitDigits)]
	if build["vcs.modified"] == "true" {
		commit += "+dirty"
	}
	return preflight.Version + " (commit " + commit + ")"
}
