package speck_test

import (
	"testing"

	"peelcheck/preflight/rules/speck"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, speck.Rule) }
