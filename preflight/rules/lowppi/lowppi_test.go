package lowppi_test

import (
	"testing"

	"peelcheck/preflight/rules/lowppi"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, lowppi.Rule) }
