using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The unit is marked where it stays visible. Needs: its marking, which the profile may ask for; the last one counts.</summary>
public sealed class Marked : IRequirement
{
    private const string Asked = "asked.mark";

    private static readonly Citation Source = new("Iowa DOT Instructional Memorandum 445", SourceMark.Published, Clause: "Appendix AA, marking");

    public string Id => "ship.marked";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Marked";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        yield return matter.File.Of<UnitMarked>().LastOrDefault() is not { } marked
            ? Evidence.AbsentWhereAsked<UnitMarked>(this, matter, unit, Asked, "The marking of the unit is not recorded.", "The yard marks it.", Source)
            : Matter.Finding(this, unit, marked.Fact.OnVisibleFace ? Verdict.Met : Verdict.NotMet, marked.Fact.OnVisibleFace ? $"Marked {marked.Fact.Marking}." : "The marking is not on a face that stays visible.", Source)
                with { Observed = marked.Fact.Marking, Clear = marked.Fact.OnVisibleFace ? "" : "The yard marks it again where it stays visible.", Used = [marked.Id] };
    }
}
