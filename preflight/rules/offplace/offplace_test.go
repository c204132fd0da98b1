package offplace_test

import (
	"testing"

	"peelcheck/preflight/rules/offplace"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, offplace.Rule) }
