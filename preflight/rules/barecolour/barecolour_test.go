package barecolour_test

import (
	"testing"

	"peelcheck/preflight/rules/barecolour"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, barecolour.Rule) }
