using Traceability.Core.Events;

namespace Traceability.Core.Judging;

/// <summary>
/// One requirement: what it needs, how it judges, what it cites. One small file each. Pure; a new instance is never kept.
/// </summary>
public interface IRequirement
{
    /// <summary>Stable id, "hold.what", for example "close-up.cover". Never reused.</summary>
    string Id { get; }

    HoldKind Hold { get; }

    string Title { get; }

    /// <summary>Limit keys it asks the profile for, for the generated list of requirements.</summary>
    IReadOnlyList<string> Limits { get; }

    /// <summary>A check of the plant's own, such as form pressure, that never stands in a packet.</summary>
    bool PlantOnly => false;

    /// <summary>At least one finding, always: a requirement that does not apply says so.</summary>
    IEnumerable<Finding> Judge(Matter matter);
}

/// <summary>Every requirement of this version of the rules.</summary>
public static class Rules
{
    /// <summary>Version of the rules that judge; part of every judgement. Raise it when a judgement can change.</summary>
    public const string Version = "2026.5";

    public static IReadOnlyList<IRequirement> All { get; } =
        [.. typeof(Rules).Assembly.GetTypes()
            .Where(t => t is { IsClass: true, IsAbstract: false } && t.IsAssignableTo(typeof(IRequirement)))
            .Select(t => (IRequirement)Activator.CreateInstance(t)!)
            .OrderBy(r => r.Hold).ThenBy(r => r.Id, StringComparer.Ordinal)];
}
