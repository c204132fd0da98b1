package fontmissing_test

import (
	"testing"

	"peelcheck/preflight/rules/fontmissing"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, fontmissing.Rule) }
