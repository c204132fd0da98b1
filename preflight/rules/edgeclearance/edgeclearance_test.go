package edgeclearance_test

import (
	"testing"

	"peelcheck/preflight/rules/edgeclearance"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, edgeclearance.Rule) }
