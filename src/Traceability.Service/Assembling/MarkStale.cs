using JasperFx.Events.Daemon;
using JasperFx.Events.Projections;
using Marten;
using Marten.Subscriptions;
using Traceability.Service.Operations;

namespace Traceability.Service.Assembling;

/// <summary>
/// Marten subscription: marks every unit that a page of new records can affect, one insert, no folding in the daemon.
/// Upwards it follows every link, which may mark a unit too many and never one too few.
/// </summary>
public sealed class MarkStale : SubscriptionBase
{
    public const string ShardName = "MarkStale";

    private const string Sql = """
        with recursive touched as (
            select distinct a.subject from trace.about a where a.position > ? and a.position <= ?
        ), start as (
            select subject from touched
            union
            select b.subject from touched t join trace.record r on t.subject like 'record:%' and r.id = substring(t.subject from 8)::uuid
            join trace.about b on b.position = r.position
        ), up(subject) as (
            select subject from start
            union
            select l.from_subject from up join trace.link l on l.to_subject = up.subject
        )
        insert into trace.stale_unit (unit, since_position, priority, marked_at)
        select u.subject, ?, coalesce((d.data ->> 'priority')::smallint, 1), now()
        from up u left join marten.mt_doc_unitrow d on d.id = substring(u.subject from 6)
        where u.subject like 'unit:%'
        order by u.subject
        on conflict (unit) do update set since_position = greatest(trace.stale_unit.since_position, excluded.since_position)
        """;

    public MarkStale() => Name = ShardName;

    public override Task<IChangeListener> ProcessEventsAsync(EventRange page, ISubscriptionController controller, IDocumentOperations operations, CancellationToken cancellationToken)
    {
        operations.QueueSqlCommand(Sql, page.SequenceFloor, page.SequenceCeiling, page.SequenceCeiling);
        return Task.FromResult(NullChangeListener.Instance);
    }
}
