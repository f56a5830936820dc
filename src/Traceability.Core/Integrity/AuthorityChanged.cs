using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>Changes of people, roles, secrets and devices, in the order of the log.</summary>
public static class AuthorityChanged
{
    public static IEnumerable<IntegrityNote> Of(IEnumerable<Record> records) =>
        records.Where(r => r.Fact is IAuthorityChange).OrderBy(r => r.Position).Select(r =>
            new IntegrityNote(IntegrityKind.Authority, $"{r.Person ?? "Nobody named"} {((IAuthorityChange)r.Fact!).Words}.", r.Person, r.RecordedAt, [r.Id]));
}
