using Npgsql;
using Traceability.Core.Events;

namespace Traceability.Service.Recording;

/// <summary>Which facts that come from outside are weighed before they count, because they may say anew what was said before.</summary>
public static class Restating
{
    /// <summary>Why a restatement waits, until it is weighed.</summary>
    public const string Reason = "It says anew what was said before. What it turns is judged before it counts.";

    /// <summary>What stands behind the person who refused an entry, before the reason.</summary>
    public const string Refused = ", who refused it: ";

    /// <summary>Why a restatement waits whose record has not come.</summary>
    public const string NotHereYet = "The record that it changes has not come yet.";

    /// <summary>Corrections and withdrawals, and what states dates and values that findings of the past rest on.</summary>
    private static readonly IReadOnlySet<FactType> Types = new HashSet<FactType>
    {
        FactCatalog.Of<RecordCorrected>(), FactCatalog.Of<RecordWithdrawn>(), FactCatalog.Of<LotCertified>(), FactCatalog.Of<PersonCertified>(), FactCatalog.Of<InstrumentCalibrated>(),
        FactCatalog.Of<DrawingApproved>(), FactCatalog.Of<DrawingRevised>(), FactCatalog.Of<MixApproved>(), FactCatalog.Of<MaturityRelated>(), FactCatalog.Of<SourceApproved>(),
        FactCatalog.Of<PlantApproved>(), FactCatalog.Of<ProfilePublished>(), FactCatalog.Of<ProfileAdopted>(), FactCatalog.Of<ContractObligated>(),
    };

    /// <summary>Whether facts of a type may say anew what was said before.</summary>
    public static bool Restates(FactType type) => Types.Contains(type);

    /// <summary>Whether a fact that restates no named record bears on a unit of which something was decided; before that it is simply the first word.</summary>
    internal static async Task<bool> MayOpenAsync(NpgsqlConnection connection, IFact fact, IReadOnlyList<string> subjects, CancellationToken cancel)
    {
        if (fact is RecordCorrected or RecordWithdrawn) return true;
        await using var command = new NpgsqlCommand("""
            with recursive up(subject) as (
                select unnest($1)
                union
                select l.from_subject from up join trace.link l on l.to_subject = up.subject
            )
            select exists (select from up cross join lateral (select a.position from trace.about a where a.subject = up.subject offset 0) a join trace.record r on r.position = a.position
                where up.subject like 'unit:%' and r.type ~ '^(tying|close-up|pour|strip|ship)\.released|^hold\.overridden|^nonconformance\.disposed|^(record-packet|supplement|load-certificate)\.issued|^pour\.placed')
            """, connection) { Parameters = { new() { Value = subjects.ToArray() } } };
        return (bool)(await command.ExecuteScalarAsync(cancel))!;
    }
}
