package overprint_test

import (
	"testing"

	"peelcheck/preflight/rules/overprint"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, overprint.Rule) }
