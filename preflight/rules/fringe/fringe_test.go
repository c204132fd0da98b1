package fringe_test

import (
	"testing"

	"peelcheck/preflight/rules/fringe"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, fringe.Rule) }
