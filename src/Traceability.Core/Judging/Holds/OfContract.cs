using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>
/// What an agency did counts for the contract the unit was under then. Under another contract another agency answers, or the
/// same one to other terms, and it acts anew. What was said for it by somebody who was not its inspector counts for nothing.
/// </summary>
internal static class OfContract
{
    /// <summary>Whether it came after the unit's last change of contract, from who may say it. Where the clocks cannot tell, it did not.</summary>
    public static bool Now(UnitFile file, Entry act) =>
        (file.ContractChanges is not [.., var last] || act.At.Compare(last.At) == TimeOrder.After) && Agencies.NotHeard(file, act) is null;

    /// <summary>The facts of one type that came after the unit's last change of contract, from who may say them.</summary>
    public static IEnumerable<Entry<T>> Now<T>(UnitFile file) where T : IFact => file.Of<T>().Where(f => Now(file, f.Whole));
}
