using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Assembling;

/// <summary>How a unit is linked with a subject.</summary>
public enum ReachHow
{
    /// <summary>The subject is in it.</summary>
    MadeFrom,

    /// <summary>The subject judged it or a part of it.</summary>
    JudgedBy,

    /// <summary>The subject is a rule it was made under.</summary>
    GovernedBy,
}

/// <summary>One subject that a unit reaches.</summary>
/// <param name="Certain">By at least one way that no storage makes uncertain.</param>
/// <param name="Named">False when only the index names it: records that no longer count after corrections, or what a storage cannot have held at that time.</param>
public sealed record ReachedSubject(Subject Subject, ReachHow How, bool Certain, bool Named);

/// <summary>Everything that something is made from, was judged by and is governed by: certain and possible apart, the truth and the index apart. Pure.</summary>
public static class UnitReach
{
    /// <summary>By subject. What is true comes from the assembled file; what only the index of links would say is named so.</summary>
    public static IReadOnlyList<ReachedSubject> Of(Dossier dossier, UnitFile file)
    {
        var truth = Walk(dossier.Unit, file.Entries.SelectMany(e => e.Links), file.Reached.Contains);
        var index = Walk(dossier.Unit, dossier.Records.SelectMany(r => r.Links()), _ => true);
        return
        [
            // Whether a way through a storage is the only one is settled by what can have been in it at that time.
            .. truth.Select(t => new ReachedSubject(t.Key, t.Value.How, !file.OnlyPossible.Contains(t.Key), true))
                .Concat(index.Where(i => !truth.ContainsKey(i.Key)).Select(i => new ReachedSubject(i.Key, i.Value.How, i.Value.Certain, false)))
                .OrderBy(r => r.Subject),
        ];
    }

    private static Dictionary<Subject, (ReachHow How, bool Certain)> Walk(Subject from, IEnumerable<Link> links, Func<Subject, bool> allowed)
    {
        var lead = links.Where(l => l.Kind != LinkKind.About && allowed(l.To)).ToLookup(l => l.From);
        var seen = new HashSet<(Subject Subject, Links.Reach Reach, bool Possible)> { (from, Links.Reach.Part, false) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach, bool Possible)>(seen);
        while (queue.TryDequeue(out var here))
        {
            foreach (var link in lead[here.Subject])
            {
                if (Links.Follow(here.Reach, link.Kind) is not { } reach) continue;
                var next = (link.To, reach, here.Possible || link.Possible);
                if (seen.Add(next)) queue.Enqueue(next);
            }
        }

        var reached = new Dictionary<Subject, (ReachHow How, bool Certain)>();
        foreach (var (subject, reach, possible) in seen)
        {
            if (subject == from) continue;
            var how = reach switch { Links.Reach.Part => ReachHow.MadeFrom, Links.Reach.Judge => ReachHow.JudgedBy, _ => ReachHow.GovernedBy };
            if (!reached.TryGetValue(subject, out var had) || how < had.How) reached[subject] = (how, !possible);
            else if (how == had.How && !possible) reached[subject] = (how, true);
        }

        return reached;
    }
}
