package straypixels_test

import (
	"testing"

	"peelcheck/preflight/rules/straypixels"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, straypixels.Rule) }
