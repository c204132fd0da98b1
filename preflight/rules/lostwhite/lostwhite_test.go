package lostwhite_test

import (
	"testing"

	"peelcheck/preflight/rules/lostwhite"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, lostwhite.Rule) }
