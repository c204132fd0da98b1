package turned_test

import (
	"testing"

	"peelcheck/preflight/rules/turned"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, turned.Rule) }
