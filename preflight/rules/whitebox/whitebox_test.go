package whitebox_test

import (
	"testing"

	"peelcheck/preflight/rules/whitebox"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, whitebox.Rule) }
