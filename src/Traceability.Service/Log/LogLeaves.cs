using JasperFx.Events.Daemon;
using JasperFx.Events.Projections;
using Marten;
using Marten.Subscriptions;

namespace Traceability.Service.Log;

/// <summary>
/// Marten subscription: gives every committed record its leaf, in order of position, index contiguous from 0. The rows
/// commit with the subscription's progress, so a leaf is neither lost nor given twice.
/// </summary>
public sealed class LogLeaves : SubscriptionBase
{
    public const string ShardName = "LogLeaves";

    private const string Sql = """
        insert into trace.log_leaf (index, position, record_id, hash)
        select (select coalesce(max(index) + 1, 0) from trace.log_leaf) + row_number() over (order by r.position) - 1, r.position, r.id, r.leaf_hash
        from trace.record r where r.position > ? and r.position <= ?
        """;

    public LogLeaves() => Name = ShardName;

    public override Task<IChangeListener> ProcessEventsAsync(EventRange page, ISubscriptionController controller, IDocumentOperations operations, CancellationToken cancellationToken)
    {
        operations.QueueSqlCommand(Sql, page.SequenceFloor, page.SequenceCeiling);
        return Task.FromResult(NullChangeListener.Instance);
    }
}
