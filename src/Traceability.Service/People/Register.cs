using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Marten;
using Npgsql;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>A station's device. Its key is kept as a hash; a kiosk has a public key instead.</summary>
public sealed record Device
{
    public required string Id { get; init; }
    public required string Name { get; init; }
    public string? KeyHash { get; init; }

    /// <summary>SubjectPublicKeyInfo of an ECDSA P-256 key, base64.</summary>
    public string? PublicKey { get; init; }
    public required IReadOnlyList<string> Roles { get; init; }

    /// <summary>CloudEvents sources that this device sends under, and no other device may; null while it is tied to none.</summary>
    public IReadOnlyList<string>? Sources { get; init; }
    public DateTimeOffset? RevokedAt { get; init; }

    /// <summary>SHA-256 of <see cref="PublicKey"/>, lower-case hex; null without one.</summary>
    public string? KeySha256() => PublicKey is null ? null : Convert.ToHexStringLower(SHA256.HashData(Convert.FromBase64String(PublicKey)));
}

/// <summary>A person of the plant. Records hold the id only; the name stands here, where it can be erased.</summary>
public sealed record Person
{
    public required string Id { get; init; }
    public required string DisplayName { get; init; }
    public required string PasswordHash { get; init; }
    public required string PinHash { get; init; }
    public required IReadOnlyList<string> Roles { get; init; }

    /// <summary>Passkeys that the person signs in with beside the password.</summary>
    public IReadOnlyList<Passkey> Passkeys { get; init; } = [];

    /// <summary>Roles that a second person has yet to confirm. They hold only then.</summary>
    public IReadOnlyList<string> WaitingRoles { get; init; } = [];

    /// <summary>Who gave the roles or the first password for which <see cref="WaitingRoles"/> wait.</summary>
    public string? AskedBy { get; init; }

    /// <summary>Whether there is no role yet but those that wait: then they read, and nothing else.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public bool OnlyWaits => Roles.Count == 0 && WaitingRoles.Count > 0;

    /// <summary>Changes with every new secret, and ends the sessions that were opened with an older one.</summary>
    public string Stamp { get; init; } = "";

    /// <summary>Whether the secrets were given, by an administrator or the bootstrap file: they sign nothing until their owner chose others.</summary>
    public bool PinIsGiven { get; init; }

    /// <summary>When the secrets were given; null when they were chosen.</summary>
    public DateTimeOffset? GivenAt { get; init; }

    /// <summary>From when the roles no longer hold; null while they do.</summary>
    public DateTimeOffset? LapsedAt { get; init; }
}

/// <summary>
/// Devices and people, read from the database and held in memory, so that intake answers while the database is away.
/// A copy on disk (hashes and public keys only) serves a start without the database.
/// </summary>
public sealed partial class Register(IDocumentStore store, NpgsqlDataSource source, IConfiguration configuration, Secrets secrets, TimeProvider clock, ILogger<Register> log) : BackgroundService
{
    private const string Channel = "trace_people";

    /// <summary>What a station's shared key must have: 128 bits as hexadecimal digits, and not the same few all over.</summary>
    private const int ShortestKey = 32, FewestDifferent = 8;

    private readonly SemaphoreSlim _reading = new(1, 1);
    private Snapshot _now = new([], []);
    private Dictionary<string, Device> _devices = new(StringComparer.Ordinal);
    private Dictionary<string, Device> _sources = new(StringComparer.Ordinal);
    private Dictionary<string, Person> _people = new(StringComparer.Ordinal);

    private sealed record Snapshot(IReadOnlyList<Device> Devices, IReadOnlyList<Person> People);

    private static readonly JsonSerializerOptions s_copy = new() { RespectNullableAnnotations = true, RespectRequiredConstructorParameters = true };
    private byte[] _copied = [];

    /// <summary>Whether devices and people were ever read, from the database or from the copy. Until then nobody can be told from a stranger.</summary>
    public bool IsRead { get; private set; }

    public Device? Device(string id) => _devices.GetValueOrDefault(id);

    /// <summary>The device that a source is tied to; null when it is tied to none.</summary>
    public Device? OwnerOf(string source) => _sources.GetValueOrDefault(source);

    public Person? Person(string id) => _people.GetValueOrDefault(id);

    public IReadOnlyList<Device> Devices => _now.Devices;

    public IReadOnlyList<Person> People => _now.People;

    public static string HashKey(string key) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(key)));

    /// <summary>A person with secrets of an own choice.</summary>
    public Person NewPerson(string id, string displayName, string password, string pin, IReadOnlyList<string> roles) => new()
    {
        Id = id,
        DisplayName = displayName,
        PasswordHash = secrets.Hash(password),
        PinHash = secrets.Hash(pin),
        Roles = roles,
    };

    /// <summary>
    /// A person with a first password, and no PIN: what is given signs nothing, so that nobody needs to hand a PIN over.
    /// </summary>
    /// <param name="at">When it is given, by the machine's clock.</param>
    public Person Give(Person person, string password, DateTimeOffset at) => person with { PasswordHash = secrets.Hash(password), PinHash = "", PinIsGiven = true, GivenAt = at };

    /// <summary>Puts a hash of today's form in the place of an older one of the same secret, unless it was changed meanwhile. Does nothing while the database is away.</summary>
    public void Rehash(string id, bool pin, string old, string fresh)
    {
        var member = pin ? "pinHash" : "passwordHash";
        try
        {
            using var command = source.CreateCommand($"update marten.mt_doc_person set data = jsonb_set(data, '{{{member}}}', to_jsonb($2::text)) where id = $1 and data->>'{member}' = $3");
            foreach (var value in new object[] { id, fresh, old }) command.Parameters.Add(new() { Value = value });
            command.ExecuteNonQuery();
        }
        catch (NpgsqlException e)
        {
            LogAway(log, e.Message);
        }
    }

    /// <summary>Stores people and devices without a record of it: the first ones of an installation.</summary>
    public async Task SaveAsync(IEnumerable<object> changed, CancellationToken cancel)
    {
        await using (var session = store.LightweightSession())
        {
            session.StoreObjects(changed);
            await session.SaveChangesAsync(cancel);
        }

        await TellAsync(cancel);
    }

    /// <summary>Takes in what was changed, here and in every other process.</summary>
    public async Task TellAsync(CancellationToken cancel)
    {
        await using (var tell = source.CreateCommand($"notify {Channel}")) await tell.ExecuteNonQueryAsync(cancel);

        await ReadAsync(cancel);
    }

    /// <summary>Reads the register, or the copy on disk when the database is away, and takes in the bootstrap file once.</summary>
    public override async Task StartAsync(CancellationToken cancellationToken)
    {
        try
        {
            await BootstrapAsync(cancellationToken);
            await ReadAsync(cancellationToken);
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e))
        {
            LogCopy(log, e.Message);
            if (CopyPath is { } path && File.Exists(path)) await UseCopyAsync(path, cancellationToken);
        }

        await base.StartAsync(cancellationToken);
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, Channel);
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await wake.WaitAsync(TimeSpan.FromSeconds(10), stoppingToken);
                await ReadAsync(stoppingToken);
            }
            catch (Exception e) when (!stoppingToken.IsCancellationRequested)
            {
                LogAway(log, e.Message);
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }

    private string? CopyPath => configuration["People:CopyFile"];

    // One read at a time: an older one must not win over a newer one.
    private async Task ReadAsync(CancellationToken cancel)
    {
        await _reading.WaitAsync(cancel);
        try
        {
            await using var session = store.QuerySession();
            var snapshot = new Snapshot(await session.Query<Device>().ToListAsync(cancel), await session.Query<Person>().ToListAsync(cancel));
            Use(snapshot);
            if (CopyPath is { } path) Copy(path, snapshot);
        }
        finally
        {
            _reading.Release();
        }
    }

    // A copy that was torn or changed is none; nobody is known then until the database answers.
    private async Task UseCopyAsync(string path, CancellationToken cancel)
    {
        try
        {
            if (JsonSerializer.Deserialize<Snapshot>(await File.ReadAllTextAsync(path, cancel), s_copy) is { } copy) Use(copy);
        }
        catch (Exception e) when (e is JsonException or IOException or UnauthorizedAccessException)
        {
            LogTorn(log, path, e.Message);
        }
    }

    // The copy holds hashes of short PINs, so only its owner may read it. A copy that cannot be written hinders nothing else.
    private void Copy(string path, Snapshot snapshot)
    {
        var bytes = JsonSerializer.SerializeToUtf8Bytes(snapshot, s_copy);
        // Every ten seconds the register is read; what has not changed is not flushed to the disk again.
        if (bytes.AsSpan().SequenceEqual(_copied)) return;
        try
        {
            if (File.Exists(Operations.DurableFile.Next(path))) File.Delete(Operations.DurableFile.Next(path));
            Operations.DurableFile.Write(path, file => file.Write(bytes), UnixFileMode.UserRead | UnixFileMode.UserWrite);
            _copied = bytes;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            LogCopyFailed(log, e.Message);
        }
    }

    private void Use(Snapshot snapshot)
    {
        _devices = snapshot.Devices.ToDictionary(d => d.Id, StringComparer.Ordinal);
        var sources = new Dictionary<string, Device>(StringComparer.Ordinal);
        foreach (var device in snapshot.Devices.OrderBy(d => d.Id, StringComparer.Ordinal))
        {
            foreach (var sent in device.Sources ?? []) sources.TryAdd(sent, device);
        }

        _sources = sources;
        _people = snapshot.People.ToDictionary(p => p.Id, StringComparer.Ordinal);
        _now = snapshot;
        IsRead = true;
    }

    /// <summary>
    /// First devices and people of an installation, from a file that the installer made. Those already known are left as they are. The passwords
    /// are first ones: they sign nothing until their owners chose others.
    /// </summary>
    private async Task BootstrapAsync(CancellationToken cancel)
    {
        if (configuration["People:BootstrapFile"] is not { Length: > 0 } path) return;
        var file = JsonSerializer.Deserialize<Bootstrap>(await File.ReadAllTextAsync(path, cancel), JsonSerializerOptions.Web)!;
        await ReadAsync(cancel);
        var devices = file.Devices.Where(d => Device(d.Id) is null).ToList();
        if (devices.Find(d => d.Key.Length < ShortestKey || d.Key.Distinct().Count() < FewestDifferent) is { } weak)
            throw new Operations.SettingException($"People:BootstrapFile: the key of device {weak.Id} must have at least {ShortestKey} characters, {FewestDifferent} of them different. Make it with a random generator, for example: openssl rand -hex 24.");
        var given = clock.GetUtcNow();
        // The first people of an installation need nobody. Whoever is written into the file later waits for a second person as anybody else does.
        var first = People.Count == 0;
        var fresh = devices.Select(d => (object)new Device { Id = d.Id, Name = d.Name, KeyHash = HashKey(d.Key), Roles = d.Roles, Sources = d.Sources })
            .Concat(file.People.Where(p => Person(p.Id) is null).ToList().AsParallel().AsOrdered().Select(p =>
                Give(new Person
                {
                    Id = p.Id, DisplayName = p.DisplayName, PasswordHash = "", PinHash = "",
                    Roles = first ? p.Roles : [.. p.Roles.Except(Core.Events.Roles.Deciding)], WaitingRoles = first ? [] : [.. p.Roles.Intersect(Core.Events.Roles.Deciding)],
                }, p.Password, given))).ToList();
        if (fresh.Count > 0) await SaveAsync(fresh, cancel);
    }

    private sealed record Bootstrap(IReadOnlyList<BootstrapDevice> Devices, IReadOnlyList<BootstrapPerson> People);

    private sealed record BootstrapDevice(string Id, string Name, string Key, IReadOnlyList<string> Roles, IReadOnlyList<string>? Sources = null);

    private sealed record BootstrapPerson(string Id, string DisplayName, string Password, IReadOnlyList<string> Roles);

    [LoggerMessage(LogLevel.Warning, "Devices and people are read from the copy on disk: {Why}")]
    private static partial void LogCopy(ILogger logger, string why);

    [LoggerMessage(LogLevel.Error, "The copy of devices and people, {Path}, cannot be read; nobody is known until the database answers: {Why}")]
    private static partial void LogTorn(ILogger logger, string path, string why);

    [LoggerMessage(LogLevel.Warning, "The copy of devices and people could not be written: {Why}")]
    private static partial void LogCopyFailed(ILogger logger, string why);

    [LoggerMessage(LogLevel.Warning, "Devices and people are as last read: {Why}")]
    private static partial void LogAway(ILogger logger, string why);
}
