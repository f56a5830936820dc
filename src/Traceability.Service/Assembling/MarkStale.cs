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

    // "offset 0": see DossierStore. A record touches its family too: a correction that came before its record moves work to a unit that neither names alone.
    private const string Sql = """
        with recursive family(position) as (
            select position from trace.record where position > ? and position <= ?
            union
            select n.position from family f
            cross join lateral (select r.id from trace.record r where r.position = f.position offset 0) r
            cross join lateral (
                select a.position from trace.about a where a.subject = 'record:' || r.id::text
                union all
                select other.position from trace.about own join trace.about other on other.subject = own.subject
                where own.position = f.position and own.subject like 'record:%'
                union all
                select named.position from trace.about own
                join trace.record named on named.id = case when own.subject like 'record:%' then substring(own.subject from 8)::uuid end
                where own.position = f.position
            ) n
        ), start as (
            select distinct a.subject from family f cross join lateral (select a.subject from trace.about a where a.position = f.position offset 0) a
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
