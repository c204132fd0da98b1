package offsheet_test

import (
	"testing"

	"peelcheck/preflight/rules/offsheet"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, offsheet.Rule) }
