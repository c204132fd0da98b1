package straywhite_test

import (
	"testing"

	"peelcheck/preflight/rules/straywhite"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, straywhite.Rule) }
