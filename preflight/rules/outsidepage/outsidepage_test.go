package outsidepage_test

import (
	"testing"

	"peelcheck/preflight/rules/outsidepage"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, outsidepage.Rule) }
