package nosize_test

import (
	"testing"

	"peelcheck/preflight/rules/nosize"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, nosize.Rule) }
