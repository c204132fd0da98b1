package smalltext_test

import (
	"testing"

	"peelcheck/preflight/rules/smalltext"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, smalltext.Rule) }
