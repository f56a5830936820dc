using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// Foreign steel over the whole contract, where the profile asks for the tally. The plant sees its own units alone, so it
/// answers pending and never met: the contract's engineer states the tally by letter. Needs: contract.
/// </summary>
public sealed class DomesticTally : IRequirement
{
    private const string Asked = "asked.domestic-tally";

    private static readonly Citation Source = new("23 CFR 635.410", SourceMark.Memory, Clause: "(b)(4)");

    public string Id => "acceptance.domestic-tally";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Domestic steel over the whole contract";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Asked) is not { } limit)
        {
            yield return Evidence.NotAsked(this, matter, unit, Asked, Source);
            yield break;
        }

        yield return Matter.Finding(this, unit, Verdict.Pending, "The tally is made over the whole contract; the plant states the weights and heats of its own units.", limit.Source) with
        {
            Limit = limit.Printed,
            LimitConfirmed = limit.ConfirmedBy is not null,
            Clear = "The contract's engineer states the tally by letter; the quality engineer records the acceptance.",
            Used = matter.File.Contract is { } contract ? [contract.Id, matter.Profile!.Id] : [matter.Profile!.Id],
        };
    }
}
